#include "image/operations.h"

#include <algorithm>
#include <limits>

#include "image/image_builder.h"
#include "image/range.h"
#include "image/spell.h"

namespace cardseal::image {
namespace {

constexpr std::uint64_t addresses_end = std::numeric_limits<std::uint64_t>::max();
constexpr Segment everything{0, addresses_end};

std::uint16_t add_files(ImageBuilder& builder, const SparseImage& image) {
  std::uint16_t first_file = 0;
  for (std::size_t index = 0; index < image.files().size(); ++index) {
    const std::uint16_t file = builder.add_file(image.files()[index]);
    first_file = index == 0 ? file : first_file;
  }
  return first_file;
}

// The parts of `image` inside `ranges`, with its files.
void add_parts(ImageBuilder& builder, const SparseImage& image,
               const std::vector<Segment>& ranges) {
  const std::uint16_t first_file = add_files(builder, image);
  for (const Segment& range : ranges) {
    for (const Piece& piece : image.pieces()) {
      builder.add_piece(image, piece, first_file, range.address, range.end());
    }
  }
}

SparseImage finish_part(ImageBuilder& builder) {
  Notes none;
  return builder.finish(none).value(); // a part of an image has no byte twice
}

std::vector<Segment> in_order(std::vector<Segment> ranges) {
  std::sort(ranges.begin(), ranges.end(),
            [](const Segment& a, const Segment& b) { return a.address < b.address; });
  return ranges;
}

Error refused(const char* code, const char* what, std::string found, std::string expected) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = code;
  error.what = what;
  error.found = std::move(found);
  error.expected = std::move(expected);
  return error;
}

void add_filler(ImageBuilder& builder, const Segment& gap, std::uint16_t file,
                const std::vector<std::uint8_t>& filler) {
  for (std::uint64_t at = 0; at < gap.length; at += filler.size()) {
    const auto length = std::min<std::uint64_t>(gap.length - at, filler.size());
    builder.add(gap.address + at, ByteView(filler).first(length), file, 0);
  }
}

// The image with every absent address of `ranges`, which are in order, as `value`.
Try<SparseImage> fill_ranges(const SparseImage& image, const std::vector<Segment>& ranges,
                             std::uint8_t value, const char* origin) {
  ImageBuilder builder;
  add_parts(builder, image, {everything});
  const std::uint16_t file = builder.add_file(origin);
  const std::vector<std::uint8_t> filler(4096, value);
  for (const Segment& range : ranges) {
    std::uint64_t address = range.address;
    while (auto gap = first_gap(image, {address, range.end() - address})) {
      add_filler(builder, *gap, file, filler);
      address = gap->end();
    }
  }
  Notes none;
  return builder.finish(none);
}

// The whole units that the image touches, joined, and how many bytes they lack.
Try<std::vector<Segment>> units_of(const SparseImage& image, std::uint64_t unit) {
  std::vector<Segment> units;
  std::uint64_t length = 0;
  for (const Segment& segment : image.segments()) {
    const std::uint64_t first = segment.address - segment.address % unit;
    const std::uint64_t last = segment.end() - 1;
    if (last - last % unit > addresses_end - unit) {
      return Unexpected(refused("image-range", "the last unit passes the last address",
                                "a unit of " + spell_count(unit, "byte") + " at " +
                                    spell_address(last - last % unit),
                                spell_address(addresses_end - 1) + " at most"));
    }
    const std::uint64_t end = last - last % unit + unit;
    const std::uint64_t from = units.empty() ? first : std::max(first, units.back().end());
    length += end - std::min(from, end);
    if (!units.empty() && first <= units.back().end()) {
      units.back().length = end - units.back().address;
    } else {
      units.push_back({first, end - first});
    }
    if (length - std::min(length, image.size()) > longest_fill) {
      return Unexpected(refused("image-range", "aligning would write too much",
                                "more than " + spell_count(longest_fill, "byte"),
                                "a smaller unit"));
    }
  }
  return units;
}

Try<void> check_apart(const std::vector<NamedRange>& regions) {
  std::vector<const NamedRange*> sorted;
  for (const NamedRange& region : regions) {
    sorted.push_back(&region);
  }
  std::sort(sorted.begin(), sorted.end(), [](const NamedRange* a, const NamedRange* b) {
    return a->range.address < b->range.address;
  });
  for (std::size_t index = 1; index < sorted.size(); ++index) {
    const NamedRange& low = *sorted[index - 1];
    const NamedRange& high = *sorted[index];
    if (high.range.address < low.range.end()) {
      Error error =
          refused("regions-overlap", "two regions overlap",
                  high.name + " from " + spell_address(high.range.address),
                  "after the end of " + low.name + ", " + spell_address(low.range.end() - 1));
      error.kind = ErrorKind::usage;
      return Unexpected(std::move(error));
    }
  }
  return {};
}

// What lies in none of `ranges`, which are in order and don't overlap.
std::vector<Segment> between(const std::vector<Segment>& ranges) {
  std::vector<Segment> out;
  std::uint64_t from = 0;
  for (const Segment& range : ranges) {
    if (range.address > from) {
      out.push_back({from, range.address - from});
    }
    from = range.end();
  }
  out.push_back({from, addresses_end - from});
  return out;
}

} // namespace

Try<SparseImage> merge(const std::vector<const SparseImage*>& images, Notes& notes) {
  ImageBuilder builder;
  for (const SparseImage* image : images) {
    add_parts(builder, *image, {everything});
  }
  return builder.finish(notes);
}

SparseImage crop(const SparseImage& image, const Segment& range) {
  ImageBuilder builder;
  add_parts(builder, image, {range});
  return finish_part(builder);
}

SparseImage crop(const SparseImage& image, const std::vector<Segment>& ranges) {
  std::vector<Segment> apart;
  for (const Segment& range : in_order(ranges)) {
    const std::uint64_t from =
        apart.empty() ? range.address : std::max(range.address, apart.back().end());
    if (from < range.end()) {
      apart.push_back({from, range.end() - from});
    }
  }
  ImageBuilder builder;
  add_parts(builder, image, apart);
  return finish_part(builder);
}

Try<SparseImage> move(const SparseImage& image, std::int64_t offset) {
  const bool down = offset < 0;
  const std::uint64_t amount =
      down ? 0 - static_cast<std::uint64_t>(offset) : static_cast<std::uint64_t>(offset);
  if (image.empty()) {
    return image;
  }
  const std::uint64_t room =
      down ? image.segments().front().address : addresses_end - image.segments().back().end();
  if (amount > room) {
    return Unexpected(refused(
        "image-move",
        down ? "image would move below address 0" : "image would pass the last address",
        spell_count(amount, "byte") + (down ? " down" : " up"), "at most " + std::to_string(room)));
  }
  ImageBuilder builder;
  const std::uint16_t first_file = add_files(builder, image);
  for (const Piece& piece : image.pieces()) {
    builder.add_piece(image, piece, first_file, piece.address, piece.end(),
                      static_cast<std::uint64_t>(offset));
  }
  return finish_part(builder);
}

Try<SparseImage> fill(const SparseImage& image, const Segment& range, std::uint8_t value) {
  auto checked = range_to_walk(image, range, value, longest_fill);
  if (!checked) {
    return Unexpected(std::move(checked).error());
  }
  return fill_ranges(image, {range}, value, "fill");
}

Try<SparseImage> align(const SparseImage& image, std::uint64_t unit, std::uint8_t value) {
  if (unit == 0) {
    Error error = refused("align-unit", "there is no unit of this size", "0", "1 byte or more");
    error.kind = ErrorKind::usage;
    return Unexpected(std::move(error));
  }
  auto units = units_of(image, unit);
  if (!units) {
    return Unexpected(std::move(units).error());
  }
  return fill_ranges(image, *units, value, "align");
}

Try<Split> split(const SparseImage& image, const std::vector<NamedRange>& regions) {
  if (auto apart = check_apart(regions); !apart) {
    return Unexpected(std::move(apart).error());
  }
  Split out;
  std::vector<Segment> ranges;
  for (const NamedRange& region : regions) {
    out.parts.push_back(crop(image, region.range));
    ranges.push_back(region.range);
  }
  out.leftover = crop(image, between(in_order(ranges)));
  return out;
}

} // namespace cardseal::image
