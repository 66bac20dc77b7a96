#include "image/operations.h"

#include <algorithm>

#include "image/image_builder.h"
#include "image/range.h"

namespace cardseal::image {
namespace {

// The part of `image` inside `range`, with its files.
void add_part(ImageBuilder& builder, const SparseImage& image, const Segment& range) {
  std::uint16_t first_file = 0;
  for (std::size_t index = 0; index < image.files().size(); ++index) {
    const std::uint16_t file = builder.add_file(image.files()[index]);
    first_file = index == 0 ? file : first_file;
  }
  for (const Piece& piece : image.pieces()) {
    builder.add_piece(image, piece, first_file, range.address, range.end());
  }
}

constexpr Segment everything{0, ~std::uint64_t{0}};

} // namespace

Try<SparseImage> merge(const std::vector<const SparseImage*>& images, Notes& notes) {
  ImageBuilder builder;
  for (const SparseImage* image : images) {
    add_part(builder, *image, everything);
  }
  return builder.finish(notes);
}

SparseImage crop(const SparseImage& image, const Segment& range) {
  ImageBuilder builder;
  add_part(builder, image, range);
  Notes none;
  return builder.finish(none).value(); // a part of an image has no byte twice
}

Try<SparseImage> fill(const SparseImage& image, const Segment& range, std::uint8_t value) {
  auto checked = range_to_walk(image, range, value, longest_fill);
  if (!checked) {
    return Unexpected(std::move(checked).error());
  }
  ImageBuilder builder;
  add_part(builder, image, everything);
  const std::uint16_t file = builder.add_file("fill");
  std::vector<std::uint8_t> filler(4096, value);
  std::uint64_t address = range.address;
  while (auto gap = first_gap(image, {address, range.end() - address})) {
    const std::uint64_t length = std::min<std::uint64_t>(gap->length, filler.size());
    builder.add(gap->address, ByteView(filler).first(length), file, 0);
    address = gap->address + length;
  }
  Notes none;
  return builder.finish(none);
}

} // namespace cardseal::image
