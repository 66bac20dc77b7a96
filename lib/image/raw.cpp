#include "image/raw.h"

#include <limits>

#include "image/image_builder.h"
#include "image/range.h"
#include "image/spell.h"

namespace cardseal::image {

Try<Firmware> read_raw(ByteView bytes, std::uint64_t address, std::string file) {
  if (bytes.size() > std::numeric_limits<std::uint64_t>::max() - address) {
    Error error;
    error.kind = ErrorKind::bad_data;
    error.code = "raw-past-end";
    error.what = "bytes run past the last address";
    error.place.file = std::move(file);
    error.found = spell_count(bytes.size(), "byte") + " at " + spell_address(address);
    error.expected = "a lower address";
    error.hint = "state the address of the first byte";
    return Unexpected(std::move(error));
  }
  Firmware out;
  ImageBuilder builder;
  builder.add(address, bytes, builder.add_file(std::move(file)), 0);
  auto image = builder.finish(out.notes);
  if (!image) {
    return Unexpected(std::move(image).error());
  }
  out.image = std::move(image).value();
  if (out.image.empty()) {
    out.notes.add(note::no_data, 0);
  }
  return out;
}

Try<std::vector<std::uint8_t>> write_raw(const SparseImage& image, const RawWriteOptions& options) {
  auto range = range_to_walk(image, options.range, options.fill, longest_raw);
  if (!range) {
    return Unexpected(std::move(range).error());
  }
  std::vector<std::uint8_t> out;
  out.reserve(range->length);
  walk(image, *range, options.fill.value_or(0),
       [&](ByteView bytes) { out.insert(out.end(), bytes.begin(), bytes.end()); });
  return out;
}

} // namespace cardseal::image
