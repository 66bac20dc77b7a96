// What becomes of a card, as the register keeps it.
#include "common.h"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

#include "base/number.h"
#include "card/evidence.h"
#include "crypto/sha256.h"
#include "register/register.h"

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

void say_units_left(const registry::AllotmentRow& row) {
  say(fmt::format("units       {} were given, {} are reported begun", row.units, row.begun));
  if (row.sealed_text) {
    note(fmt::format("next: whoever finds it can still work with it; stop it, and its numbers stay "
                     "spent: cardseal trust stop --allotment {}",
                     crypto::spell_digest(*row.sealed_text)));
  }
}

Try<format::CardId> card_id_of(const std::string& card) {
  if (const std::optional<format::CardId> id = spelled_id(card)) {
    return *id;
  }
  TRY(file, io::ReadFile::open(io::real_system(), card));
  fat32::FileSource source(file);
  return card::read_card_id(source, card);
}

} // namespace

Ran run_card_note(const CardNoteOptions& options) {
  TRY(fate, to_word(options.fate, registry::fate_words, "what became of the card"));
  TRY(card, card_id_of(options.card));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  const registry::FateNote kept{static_cast<registry::Fate>(fate), options.by, options.note};
  TRY_VOID(numbers.note_fate(card, kept));
  say(fmt::format("noted       card {}: {}, by {}", crypto::hex(card), options.fate,
                  escaped(options.by)));
  if (kept.fate == registry::Fate::lost) {
    TRY_VOID(numbers.each_allotment([&](const registry::AllotmentRow& row) {
      if (row.card == card) {
        say_units_left(row);
      }
    }));
  }
  return 0;
}

} // namespace cardseal::tool
