#include "card/plain_file.h"

#include "image/intel_hex.h"
#include "image/raw.h"

namespace cardseal::card {

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
  if (facts.form == format::PlainForm::raw) {
    image::RawWriteOptions options;
    options.fill = 0xFF;
    return image::write_raw(*image, options);
  }
  image::HexWriteOptions options;
  options.record_length = facts.record_length;
  options.line_end =
      facts.line_end == format::LineEnd::lf ? image::LineEnd::lf : image::LineEnd::crlf;
  return image::write_intel_hex(*image, options);
}

} // namespace cardseal::card
