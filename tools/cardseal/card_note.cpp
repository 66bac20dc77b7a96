// What becomes of a card, as the register keeps it.
#include "card_name.h"
#include "common.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "register/register.h"

namespace cardseal::tool {
namespace {

void say_units_left(const registry::AllotmentRow& row) {
  say(fmt::format("units       {} were given, {} are reported begun", row.units, row.begun));
  if (row.sealed_text) {
    note(fmt::format("next: whoever finds it can still work with it; stop it: cardseal "
                     "card lost {}",
                     crypto::hex(row.card)));
  }
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
