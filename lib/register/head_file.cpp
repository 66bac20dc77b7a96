#include "register/head_file.h"

#include "base/number.h"
#include "crypto/sha256.h"
#include "io/file.h"

namespace cardseal::registry {
namespace {

constexpr std::string_view mark = "cardseal-register-head 1\n";
constexpr std::size_t longest = 256;

std::string spell(const Head& head) {
  return std::string(mark) + "entries " + std::to_string(head.entries) +
         "\ndigest sha256:" + crypto::hex(head.digest) + "\n";
}

// Exactly what `spell` makes.
std::optional<Head> parse(std::string_view text) {
  constexpr std::string_view entries = "entries ";
  if (!text.starts_with(mark)) {
    return std::nullopt;
  }
  text.remove_prefix(mark.size());
  const std::size_t end = text.find('\n');
  Head head;
  if (!text.starts_with(entries) || end == std::string_view::npos ||
      !parse_uint(text.substr(entries.size(), end - entries.size()), head.entries)) {
    return std::nullopt;
  }
  constexpr std::string_view digest = "digest sha256:";
  text.remove_prefix(end + 1);
  if (!text.starts_with(digest) || text.size() != digest.size() + 2 * head.digest.size() + 1 ||
      text.back() != '\n' ||
      !parse_hex_bytes(text.substr(digest.size(), 2 * head.digest.size()), head.digest)) {
    return std::nullopt;
  }
  return head;
}

} // namespace

io::Path head_path(const io::Path& register_file) {
  return register_file.string() + ".head";
}

Try<std::optional<Head>> read_head(io::System& system, const io::Path& path) {
  if (!system.stat(path)) {
    return std::optional<Head>();
  }
  Try<io::Bytes> bytes = io::read_file(system, path, longest);
  if (!bytes) {
    return Unexpected(std::move(bytes).error());
  }
  const std::optional<Head> head = parse(text_of(*bytes));
  if (!head) {
    Error error;
    error.kind = ErrorKind::bad_data;
    error.code = "register-head";
    error.what = "the file beside the register that names its newest entry can't be read";
    error.place.file = path.string();
    error.found = "something else";
    error.expected = "three lines, the first " + std::string(mark, 0, mark.size() - 1);
    error.hint = "bring back the newest copy of it that you have";
    return Unexpected(std::move(error));
  }
  return head;
}

Try<void> write_head(io::System& system, const io::Path& path, const Head& head) {
  return io::write_file(system, path, bytes_of(spell(head)), io::IfExists::replace);
}

} // namespace cardseal::registry
