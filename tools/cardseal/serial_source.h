// The serial scheme of a release, sealed or not yet, and the units that were asked for.
#pragma once

#include "common.h"
#include "format/card_texts.h"
#include "register/types.h"
#include "serial/collide.h"
#include "view/serial_json.h"

namespace cardseal::tool {

struct SerialSourceOptions {
  std::string file;      // release.xml or a package
  std::string date_code; // empty: none
  std::string work_class = "production";
};

struct SerialSource {
  format::Manifest manifest;
  format::Allotment stated; // date code and class only
  unit::Serials serials() const { return unit::serials_of(manifest, &stated); }
};

// An error when the release has no serials. Findings of an authored release are not looked at.
Try<SerialSource> read_serial_source(const SerialSourceOptions& options, bool json);

// "FIRST-LAST" or "ORDINAL"; empty: all. An error past the scheme.
Try<serial::UnitRange> to_units(const SerialSource& source, const std::string& text);

Error past_scheme(const std::string& file, std::uint64_t ordinal, const Outcome& outcome);
Try<view::SerialUnit> spell_unit(const SerialSource& source, std::uint64_t ordinal);
// "  FN000001 to FN000020": the first and the last text of a range; empty without numbers, or where
// the scheme has no text.
std::string texts_of(const format::Manifest& manifest, const format::Allotment& stated,
                     const registry::Range& range);
std::string placement_name(const format::Placement& placement); // "flash 0x7FF0"
view::SerialProof proof_of(const SerialSource& source, const serial::UnitRange& range); // no units
void print_units(const view::SerialProof& proof);

} // namespace cardseal::tool
