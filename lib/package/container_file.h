// Writing a container through libarchive. What it writes is the one form that
// format/container.h demands; a test holds it to that.
#pragma once

#include <string>
#include <vector>

#include "io/file.h"

namespace cardseal::package {

struct Entry {
  std::string name;
  ByteView content;
};

Try<io::Bytes> write_container(const std::vector<Entry>& entries);

// libarchive's own view of the bytes, written again, must give the same bytes: a second opinion
// beside format::read_layout.
Try<void> same_when_written_again(ByteView bytes, const std::string& file);

} // namespace cardseal::package
