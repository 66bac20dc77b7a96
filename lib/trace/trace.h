// From one unit back to everything: the register's allotment and what came back of it, the package
// with its firmware, settings and sign-offs. A text may fit several packages (a new release under
// the same scheme): each that the register gave that number under is told, and what is missing is
// said, never guessed.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "lot/order.h"
#include "package/package.h"
#include "register/register.h"
#include "runlog/log_file.h"

namespace cardseal::trace {

struct Question {
  std::string serial;                     // as it stands on the label; empty: by ordinal
  std::optional<std::uint64_t> ordinal;   // with every package that has a scheme
  std::vector<runlog::LogFile> logs = {}; // of any cards, several of one too
};

enum class Result : std::uint8_t {
  not_reported, // no log and no tally of this allotment came back
  unused,       // one did, and the unit was not begun
  begun,        // and its end is not known, or was not good
  good,
};
inline constexpr std::array<std::string_view, 4> result_words{"not-reported", "unused", "begun",
                                                              "good"};

struct Unit {
  std::uint64_t ordinal = 0;
  std::uint64_t number = 0;
  std::string text; // empty: the scheme has none
};

// A number that the same board had before, or got later.
struct OtherNumber {
  registry::AllotmentRow allotment;
  std::uint64_t place = 0; // in the allotment, from 0
  std::string label;
};

// Of the order that the unit's card was made for, as its newest revision has it.
struct Ordered {
  std::string place; // of the card; empty: none
  std::string line;  // where its station stands; may be empty
  std::vector<lot::Reel> reels;
  std::vector<lot::SiliconRevision> silicon; // that may be on these boards
};

struct Found {
  const package::Package* package = nullptr; // null: the register names one that was not given
  Unit unit;
  registry::AllotmentRow allotment;
  Result result = Result::not_reported;
  std::vector<registry::FateRow> fates; // of its card
  std::optional<registry::Settlement> settled;
  std::optional<Ordered> ordered;       // none: no order, or one of which only the digest is kept
  std::vector<OtherNumber> before;      // of the same board, the one just before first
  std::vector<OtherNumber> after;       // the next one first
  std::vector<std::string> merged_into; // the orders that count its own
  std::vector<registry::Statement> statements; // about its lot, also where that was merged into
  std::vector<format::LogRecord> work;         // of the logs given, in the order of the log
};

// The number was given, or given up, outside of any card.
struct Apart {
  Unit unit;
  registry::RangeRow range;
};

struct Answer {
  std::vector<Found> found; // in the register's order
  // The number was given, and its label reads otherwise: another date code or class.
  std::vector<Found> other_label;
  std::vector<Apart> apart;
  bool is_a_serial = false; // it is one of at least one package's scheme
};

// Of a serial as it stands on the label; date code and class are taken from the text itself. None:
// the package makes no such serial.
std::optional<std::uint64_t> ordinal_of(const package::Package& package, const std::string& serial);

// A unit of an allotment as its label reads, by a package of its scheme.
Unit unit_of(const package::Package& package, const registry::AllotmentRow& row,
             std::uint64_t ordinal);

// Unit 0 is the allotment's first. As its label reads; by its ordinal where the package that the
// register names is not among these, and by its place where it has no serial.
std::string label_of(const std::vector<const package::Package*>& packages,
                     const registry::AllotmentRow& row, std::uint64_t unit);

// `packages` outlive the answer. A package without a scheme is passed over.
Try<Answer> trace(registry::Register& numbers, const std::vector<package::Package>& packages,
                  const Question& question);

} // namespace cardseal::trace
