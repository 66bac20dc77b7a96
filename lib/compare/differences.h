// Two releases, setting by setting: what differs, the largest risk first.
//
//   Side a = ..., b = ...;
//   Try<Report> report = compare::compare(a, b, {});
//   report->differences.empty()        // the same
//
// The texts are compared as they are sealed, by the one description of each (compare/lines.h);
// compare/table.h says what each key is to people.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "diag/error.h"
#include "image/compare.h"
#include "image/operations.h"
#include "package/package.h"

namespace cardseal::compare {

// In the order in which people should read: what can destroy a board first.
enum class Area : std::uint8_t {
  supply,
  settings,
  configuration,
  firmware,
  serials,
  findings,
  identity,
  documents,
  signoffs,
  stations,
  calculation,
  package,
};
inline constexpr std::array<std::string_view, 12> area_words{
    "supply",   "settings",  "configuration", "firmware", "serial numbers", "findings",
    "identity", "documents", "sign-offs",     "stations", "calculation",    "package"};

// `damage`: a wrong value of it can destroy a board, or leave it unusable for good.
enum class Risk : std::uint8_t { damage, other };

struct FieldChange { // as the sealed texts spell it; none: '-', or the item is not there
  std::string name;
  std::optional<std::string> a;
  std::optional<std::string> b;
  std::optional<std::uint64_t> number_a; // of numbers
  std::optional<std::uint64_t> number_b;
};

struct Difference {
  Area area = Area::package;
  Risk risk = Risk::other;
  std::string key;  // "manifest.supply", "facts.margin", "firmware.flash", "firmware.all"
  std::string what; // "supply voltage"
  std::optional<std::string> a;           // in words; none: not there
  std::optional<std::string> b;           // not safe for a terminal: `escaped` makes it so
  std::vector<FieldChange> fields;        // none for firmware
  std::optional<image::Comparison> bytes; // firmware only
};

struct Report {
  std::vector<Difference> differences;
  std::size_t can_damage = 0; // of them
  bool signoffs_compared = false;
};

struct Side {
  package::Package package;
  image::SparseImage image; // the package's
  bool sealed = true;       // false: authored, so that nobody can have signed it
};

// Firmware is compared by `regions`, and what is in none; without any, as a whole. Sign-offs are
// compared when both sides are sealed. Error (usage): regions that overlap.
Try<Report> compare(const Side& a, const Side& b, const std::vector<image::NamedRange>& regions);

// "12 differences, 2 of them can damage boards"; "no difference".
std::string closing_sentence(const Report& report);

} // namespace cardseal::compare
