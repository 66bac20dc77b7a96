#include "file_kind.h"

#include <algorithm>

namespace cardseal::tool {

Try<FileKind> kind_of(const std::string& file) {
  TRY(opened, io::ReadFile::open(io::real_system(), file));
  std::uint8_t first[512] = {};
  const std::size_t size = std::min<std::uint64_t>(opened.size(), sizeof first);
  TRY_VOID(opened.read_at(0, ByteSpan(first).first(size)));
  const std::string_view text = text_of(ByteView(first).first(size));
  if (text.starts_with("cardseal-root ")) {
    return FileKind::root;
  }
  if (text.starts_with("cardseal-trust ")) {
    return FileKind::trust;
  }
  if (text.starts_with("cardseal-withdrawal ")) {
    return FileKind::withdrawal;
  }
  for (const char* head : {"cardseal-first-article ", "cardseal-concession ", "cardseal-close "}) {
    if (text.starts_with(head)) {
      return FileKind::statement;
    }
  }
  if (text.starts_with(std::string_view("manifest\0", 9))) {
    return FileKind::package;
  }
  if (size == sizeof first && first[510] == 0x55 && first[511] == 0xAA) {
    return FileKind::card;
  }
  return Unexpected(at(
      error_of(
          ErrorKind::bad_data, "file-kind", "this is no kind of file that is read here", "",
          "a release package, a card image, a trust list, a withdrawal, a root, or a lot's first "
          "article, concession or closure",
          "for firmware use: cardseal image FILE"),
      file));
}

} // namespace cardseal::tool
