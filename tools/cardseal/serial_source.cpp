#include "serial_source.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "package/package.h"
#include "release.h"

namespace cardseal::tool {
namespace {

Try<format::Manifest> manifest_from(const std::string& file, bool json) {
  if (is_authored(file)) {
    TRY(release, compile_release(file, {}, json));
    return std::move(release.manifest);
  }
  TRY(package, package::read(io::real_system(), file));
  return package.manifest;
}

} // namespace

Error past_scheme(const std::string& file, std::uint64_t ordinal, const Outcome& outcome) {
  Error error = error_from(outcome, file);
  error.found = fmt::format("ordinal {}", ordinal);
  if (outcome.fault == Fault::allotment_date_code) {
    error.hint = "state what the lot order states with --date-code";
  }
  return error;
}

Try<SerialSource> read_serial_source(const SerialSourceOptions& options, bool json) {
  SerialSource source;
  TRY(work_class, to_word(options.work_class, format::work_class_words, "the class of work"));
  source.stated.work_class = static_cast<format::WorkClass>(work_class);
  if (!options.date_code.empty()) {
    TRY(date_code, to_text<16>(options.date_code, "the date code"));
    source.stated.date_code.set(date_code);
  }
  TRY(manifest, manifest_from(options.file, json));
  source.manifest = manifest;
  if (!source.manifest.scheme.present) {
    Error error;
    error.kind = ErrorKind::bad_data;
    error.code = "no-serials";
    error.what = "this release has no serial numbers";
    error.place.file = options.file;
    error.found = "no scheme";
    error.expected = "a release with <serial>";
    return Unexpected(std::move(error));
  }
  const auto parts = source.manifest.parts.view();
  if (!options.date_code.empty() && std::none_of(parts.begin(), parts.end(), [](const auto& part) {
        return part.kind == format::PartKind::date_code;
      })) {
    return Unexpected(usage_error("the scheme has no date code", options.date_code,
                                  "no --date-code for this release"));
  }
  return source;
}

Try<serial::UnitRange> to_units(const SerialSource& source, const std::string& text) {
  const std::uint64_t most = source.manifest.scheme.value.capacity - 1;
  if (text.empty()) {
    return serial::UnitRange{source.serials(), 0, most};
  }
  const std::vector<std::string> ends = split(text, '-');
  TRY(first, to_uint(ends[0], "the first ordinal", most));
  TRY(last, to_uint(ends.back(), "the last ordinal", most));
  if (ends.size() > 2 || first > last) {
    return Unexpected(usage_error("this is no range of ordinals", text, "FIRST-LAST, or one"));
  }
  return serial::UnitRange{source.serials(), first, last};
}

Try<view::SerialUnit> spell_unit(const SerialSource& source, std::uint64_t ordinal) {
  view::SerialUnit out;
  out.ordinal = ordinal;
  unit::UnitText text;
  Outcome outcome = unit::number_of(source.serials(), ordinal, out.number);
  if (outcome.ok()) {
    outcome = unit::text_of(source.serials(), ordinal, text);
  }
  for (const format::Placement& placement : source.manifest.placements.view()) {
    unit::UnitBytes bytes;
    if (outcome.ok()) {
      outcome = unit::bytes_of(source.serials(), placement, ordinal, bytes);
    }
    out.bytes.push_back(crypto::hex(bytes.view()));
  }
  if (!outcome.ok()) {
    return Unexpected(past_scheme({}, ordinal, outcome));
  }
  out.text = text.view();
  return out;
}

std::string texts_of(const format::Manifest& manifest, const format::Allotment& stated,
                     const registry::Range& range) {
  if (range.count == 0 || !manifest.scheme.present) {
    return {};
  }
  const unit::Serials serials = unit::serials_of(manifest, &stated);
  unit::UnitText first;
  unit::UnitText last;
  if (!unit::text_of(serials, range.first, first).ok() ||
      !unit::text_of(serials, range.past() - 1, last).ok()) {
    return {};
  }
  return fmt::format("  {} to {}", escaped(first.view()), escaped(last.view()));
}

std::string placement_name(const format::Placement& placement) {
  return fmt::format("{} 0x{:X}", placement.region.view(), placement.address);
}

} // namespace cardseal::tool
