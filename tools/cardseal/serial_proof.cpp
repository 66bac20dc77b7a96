#include "commands_serial.h"

#include <fmt/format.h>

#include "serial/proof.h"

namespace cardseal::tool {
namespace {

std::string word_of(serial::TextAnswer answer) {
  switch (answer) {
  case serial::TextAnswer::never:
    return "never";
  case serial::TextAnswer::can:
    return "can";
  case serial::TextAnswer::not_excluded:
    return "not-excluded";
  }
  return {};
}

Try<view::SerialCollision> collide(const SerialProofOptions& options,
                                   const serial::UnitRange& range) {
  SerialSourceOptions other = options.source;
  other.file = options.against;
  TRY(source, read_serial_source(other, options.json));
  TRY(other_range, to_units(source, options.against_range));
  const serial::TextCollision texts = serial::common_text(range, other_range);
  const std::optional<serial::Meeting> meeting = serial::common_number(range, other_range);
  view::SerialCollision out{options.against, word_of(texts.answer), texts.reason, {}};
  if (meeting) {
    out.number = meeting->number;
  }
  return out;
}

void print(const view::SerialProof& proof) {
  say(fmt::format("scheme        {}, units {} to {} of {}; {} behind them", proof.scheme,
                  proof.first, proof.last, proof.capacity, proof.capacity - 1 - proof.last));
  print_units(proof);
  if (proof.collision) {
    const view::SerialCollision& found = *proof.collision;
    say(fmt::format("same text     {}: {}", found.texts, found.reason));
    say(fmt::format("same number   {}",
                    found.number ? fmt::format("can: {}", *found.number) : std::string("never")));
  }
}

} // namespace

Ran run_serial_proof(const SerialProofOptions& options) {
  if (options.against.empty() && !options.against_range.empty()) {
    return Unexpected(usage_error("a range to compare with belongs to another release",
                                  "--against-range alone", "--against with --against-range"));
  }
  TRY(source, read_serial_source(options.source, options.json));
  TRY(range, to_units(source, options.range));
  view::SerialProof proof = proof_of(source, range);
  for (const serial::ProofUnit& each :
       serial::proof_units(source.serials(), range.first, range.last)) {
    TRY(unit, spell_unit(source, each.ordinal));
    unit.why = each.why;
    proof.units.push_back(std::move(unit));
  }
  if (!options.against.empty()) {
    TRY(found, collide(options, range));
    proof.collision = found;
  }
  if (options.json) {
    say(view::json_of(proof));
  } else {
    print(proof);
  }
  return proof.collision && proof.collision->texts != "never" ? 1 : 0;
}

} // namespace cardseal::tool
