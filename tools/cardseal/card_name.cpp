#include "card_name.h"

#include <algorithm>
#include <optional>

#include "base/number.h"
#include "card/evidence.h"

namespace cardseal::tool {
namespace {

// 16 hex digits, as people type them; none: it is a file's name.
std::optional<format::CardId> spelled_id(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](char c) {
    return c >= 'A' && c <= 'F' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  format::CardId id{};
  std::uint64_t value = 0;
  if (text.size() != 2 * id.size() || !parse_hex(text, value)) {
    return std::nullopt;
  }
  for (std::size_t i = 0; i < id.size(); ++i) {
    id[id.size() - 1 - i] = static_cast<std::uint8_t>(value >> 8 * i);
  }
  return id;
}

} // namespace

Try<format::CardId> card_id_of(const std::string& card) {
  if (const std::optional<format::CardId> id = spelled_id(card)) {
    return *id;
  }
  TRY(file, io::ReadFile::open(io::real_system(), card));
  fat32::FileSource source(file);
  return card::read_card_id(source, card);
}

} // namespace cardseal::tool
