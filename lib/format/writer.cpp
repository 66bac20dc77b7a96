#include "format/writer.h"

namespace cardseal::format {

void TextWriter::put(std::string_view text) {
  if (full_ || text.size() > out_.size() - at_) {
    full_ = true;
    return;
  }
  copy(out_.subspan(at_, text.size()), bytes_of(text));
  at_ += text.size();
}

void TextWriter::put_uint(std::uint64_t value) {
  std::array<char, 20> spelled{};
  put({spelled.data(), spell_uint(value, spelled)});
}

void TextWriter::put_hex(std::uint64_t value, std::size_t digits) {
  std::array<char, 16> spelled{};
  put({spelled.data(), spell_hex(value, digits, spelled)});
}

void TextWriter::put_bytes(ByteView bytes) {
  for (const std::uint8_t byte : bytes) {
    put_hex(byte, 2);
  }
}

void TextWriter::put_utc(const Utc& time) {
  std::array<char, utc_length> spelled{};
  put({spelled.data(), spell_utc(time, spelled)});
}

} // namespace cardseal::format
