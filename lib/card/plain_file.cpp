#include "card/plain_file.h"

#include <algorithm>

#include <fmt/format.h>

#include "image/image_builder.h"
#include "image/intel_hex.h"
#include "image/operations.h"
#include "image/raw.h"
#include "unit/unit.h"

namespace cardseal::card {
namespace {

Try<io::Bytes> written(const image::SparseImage& image, const format::PlainFileFacts& facts) {
  if (facts.form == format::PlainForm::raw) {
    image::RawWriteOptions options;
    options.fill = 0xFF;
    return image::write_raw(image, options);
  }
  image::HexWriteOptions options;
  options.record_length = facts.record_length;
  options.line_end =
      facts.line_end == format::LineEnd::lf ? image::LineEnd::lf : image::LineEnd::crlf;
  return image::write_intel_hex(image, options);
}

// What the image keeps when serials take their places; placements may stand in any order.
image::SparseImage without_places(const image::SparseImage& image, const format::Manifest& m) {
  std::vector<image::Segment> places;
  for (const format::Placement& p : m.placements.view()) {
    places.push_back({p.address, p.length});
  }
  std::sort(places.begin(), places.end(),
            [](const auto& a, const auto& b) { return a.address < b.address; });
  std::vector<image::Segment> kept;
  std::uint64_t from = 0;
  for (const image::Segment& place : places) {
    if (place.address > from) {
      kept.push_back({from, place.address - from});
    }
    from = std::max(from, place.end());
  }
  kept.push_back({from, ~std::uint64_t{0} - from});
  return image::crop(image, kept);
}

Error unit_error(const package::Package& package, const char* code, std::string what,
                 std::string found, std::string expected, std::string hint) {
  Error error;
  error.kind = ErrorKind::config;
  error.code = code;
  error.what = std::move(what);
  error.place.file = package.file;
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = std::move(hint);
  return error;
}

// Before hundreds of files are made.
Try<void> check_unit_files(const package::Package& package, const format::PlainFileFacts& facts,
                           const format::Allotment& a, std::uint64_t room) {
  if (!package.manifest.scheme.present) {
    return Unexpected(unit_error(package, "unit-file-serials",
                                 "this station takes a file for each board, with its number in it",
                                 "a release without serial numbers", "a release with some",
                                 "name another station"));
  }
  const std::uint64_t last = a.first + a.units - 1;
  if (unit_path(facts, last).empty()) {
    return Unexpected(unit_error(
        package, "unit-file-digits", "an ordinal has more digits than the file's name has room for",
        std::to_string(last), std::string(facts.path.view()),
        "a station profile with more '#' in the name, or numbers from a lower window"));
  }
  Try<io::Bytes> one = write_unit_file(package, facts, a, a.first);
  if (one && one->size() * a.units > room) {
    return Unexpected(unit_error(
        package, "unit-files-full", "the files for so many units do not fit on this station's card",
        fmt::format("{} units of {} bytes each", a.units, one->size()),
        fmt::format("at most {} units", room / one->size()), "share the lot among several cards"));
  }
  return one ? Try<void>() : Unexpected(std::move(one).error());
}

} // namespace

const format::StationFacts* find_station(const format::Facts& facts, const format::Id& model) {
  for (const format::StationFacts& station : facts.stations.view()) {
    if (station.model == model) {
      return &station;
    }
  }
  return nullptr;
}

const format::PlainFileFacts* find_plain_file(const format::Facts& facts, const format::Id& model) {
  for (const format::PlainFileFacts& plain : facts.plain_files.view()) {
    if (plain.model == model) {
      return &plain;
    }
  }
  return nullptr;
}

Try<io::Bytes> write_plain_file(const package::Package& package,
                                const format::PlainFileFacts& facts) {
  Try<image::SparseImage> image = package::image_of(package);
  if (!image) {
    return Unexpected(std::move(image).error());
  }
  return written(*image, facts);
}

bool is_for_each_unit(const format::PlainFileFacts& facts) {
  return facts.path.view().find('#') != std::string_view::npos;
}

std::string unit_path(const format::PlainFileFacts& facts, std::uint64_t ordinal) {
  std::string path(facts.path.view());
  const std::size_t first = std::min(path.find('#'), path.size());
  const std::size_t digits = std::min(path.find_first_not_of('#', first), path.size()) - first;
  const std::string number = fmt::format("{:0{}}", ordinal, digits);
  return number.size() == digits ? path.replace(first, digits, number) : std::string();
}

Try<io::Bytes> write_unit_file(const package::Package& package, const format::PlainFileFacts& facts,
                               const format::Allotment& allotment, std::uint64_t ordinal) {
  Try<image::SparseImage> image = package::image_of(package);
  if (!image) {
    return Unexpected(std::move(image).error());
  }
  const format::Manifest& m = package.manifest;
  image::ImageBuilder builder;
  const std::uint16_t file = builder.add_file("serial");
  for (const format::Placement& placement : m.placements.view()) {
    unit::UnitBytes bytes;
    const Outcome made = unit::bytes_of(unit::serials_of(m, &allotment), placement, ordinal, bytes);
    if (!made.ok()) {
      return Unexpected(error_from(made, package.file));
    }
    builder.add(placement.address, bytes.view(), file, 0);
  }
  image::Notes notes;
  const image::SparseImage rest = without_places(*image, m);
  Try<image::SparseImage> serials = builder.finish(notes);
  Try<image::SparseImage> whole =
      serials ? image::merge({&rest, &*serials}, notes) : Unexpected(std::move(serials).error());
  return whole ? written(*whole, facts) : Unexpected(std::move(whole).error());
}

Try<std::vector<CardFile>> plain_files(const package::Package& package,
                                       const format::PlainFileFacts& facts,
                                       const format::Allotment& allotment, std::uint64_t room) {
  std::vector<CardFile> files;
  const bool each = is_for_each_unit(facts);
  if (each) {
    if (Try<void> good = check_unit_files(package, facts, allotment, room); !good) {
      return Unexpected(std::move(good).error());
    }
  }
  for (std::uint64_t i = 0; i < (each ? allotment.units : 1U); ++i) {
    const std::uint64_t ordinal = allotment.first + i;
    Try<io::Bytes> bytes = each ? write_unit_file(package, facts, allotment, ordinal)
                                : write_plain_file(package, facts);
    if (!bytes) {
      return Unexpected(std::move(bytes).error());
    }
    files.push_back(
        {each ? unit_path(facts, ordinal) : std::string(facts.path.view()), std::move(*bytes)});
  }
  return files;
}

} // namespace cardseal::card
