#include "package/deviations.h"

#include <algorithm>

namespace cardseal::package {
namespace {

std::string spell(const Utc& time) {
  char text[utc_length];
  return {text, spell_utc(time, text)};
}

Error over(const Package& package, const format::Deviation& deviation, const char* code,
           const char* what, std::string found, std::string expected) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = code;
  error.what = what + (" " + std::string(deviation.number.view()));
  error.place.file = package.file;
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = "release the firmware again without it, or with a new deviation that quality signs";
  return error;
}

} // namespace

Try<void> check_deviations_at(const Package& package, const Utc& now) {
  for (const format::Deviation& deviation : package.facts.deviations.view()) {
    if (now > deviation.expires) {
      return Unexpected(over(package, deviation, "deviation-ended",
                             "this package rests on a deviation that has ended:", spell(now),
                             "at most " + spell(deviation.expires)));
    }
  }
  return {};
}

Try<void> check_deviation_boards(const Package& package, std::uint64_t made, std::uint64_t more) {
  for (const format::Deviation& deviation : package.facts.deviations.view()) {
    if (more > deviation.boards || made > deviation.boards - more) {
      return Unexpected(over(package, deviation, "deviation-used-up",
                             "this package rests on a deviation for fewer boards:",
                             std::to_string(made) + " on cards, " + std::to_string(more) + " more",
                             "at most " + std::to_string(deviation.boards) + " on all cards"));
    }
  }
  return {};
}

Try<void> check_deviations_approved(const Package& package) {
  const bool quality =
      std::any_of(package.signoffs.begin(), package.signoffs.end(), [](const SignoffEntry& entry) {
        return entry.signoff.role == format::Role::quality;
      });
  for (const format::Deviation& deviation : package.facts.deviations.view()) {
    if (!quality) {
      return Unexpected(over(package, deviation, "deviation-not-approved",
                             "this package rests on a deviation that quality did not sign:",
                             "no sign-off in role quality", "one"));
    }
  }
  return {};
}

} // namespace cardseal::package
