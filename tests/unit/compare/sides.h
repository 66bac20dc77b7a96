// Releases to compare, made of the worked examples of lib/format/SPEC.md.
#pragma once

#include "compare/differences.h"
#include "image/image_builder.h"
#include "support/catch.h"
#include "support/decoded.h"
#include "support/sealed_examples.h"

namespace cardseal::test {

inline image::SparseImage image_at(std::uint64_t address, std::string_view bytes) {
  image::ImageBuilder builder;
  builder.add(address, bytes_of(bytes), builder.add_file("made"), 0);
  image::Notes notes;
  return builder.finish(notes).value();
}

inline compare::Side example_side() {
  compare::Side side;
  side.package.manifest = decoded_value<format::Manifest>(example_of<format::Manifest>());
  side.package.facts = decoded_value<format::Facts>(example_of<format::Facts>());
  package::SignoffEntry entry;
  entry.signoff = decoded_value<format::Signoff>(example_of<format::Signoff>());
  side.package.signoffs.push_back(entry);
  side.image = image_at(0x100, "application");
  return side;
}

inline compare::Report compared(const compare::Side& a, const compare::Side& b,
                                const std::vector<image::NamedRange>& regions = {}) {
  Try<compare::Report> report = compare::compare(a, b, regions);
  REQUIRE(report);
  return std::move(report).value();
}

// "! supply voltage: 3.300 V -> 3.400 V", one a difference.
inline std::vector<std::string> spelled(const compare::Report& report) {
  std::vector<std::string> out;
  for (const compare::Difference& one : report.differences) {
    out.push_back((one.risk == compare::Risk::damage ? "! " : "") + one.what + ": " +
                  one.a.value_or("not there") + " -> " + one.b.value_or("not there"));
  }
  return out;
}

} // namespace cardseal::test
