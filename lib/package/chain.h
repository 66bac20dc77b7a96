// The chain of digests over an image: d(i) = SHA-256(block i, d(i+1)), the last over 32 zero bytes.
#pragma once

#include "format/container.h"
#include "io/file.h"

namespace cardseal::package {

// d(0) to d(n-1), 32 bytes each; `image` is not empty.
io::Bytes make_chain(ByteView image);

} // namespace cardseal::package
