// Reading and writing that goes on until every byte is done; inside `io` only.
#pragma once

#include "io/system.h"

namespace cardseal::io {

Try<void> read_exactly(System& system, int file, const Path& path, std::uint64_t offset,
                       ByteSpan out);
Try<void> write_exactly(System& system, int file, const Path& path, std::uint64_t offset,
                        ByteView bytes);
Try<void> write_stream_exactly(System& system, int file, const Path& path, ByteView bytes);

} // namespace cardseal::io
