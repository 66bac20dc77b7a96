#include "image/range.h"

#include <limits>

#include "image/spell.h"

namespace cardseal::image {
namespace {

Error refused(const char* code, const char* what, const char* hint) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = code;
  error.what = what;
  error.hint = hint;
  return error;
}

} // namespace

std::optional<Segment> extent(const SparseImage& image) {
  if (image.empty()) {
    return std::nullopt;
  }
  const std::uint64_t first = image.segments().front().address;
  return Segment{first, image.segments().back().end() - first};
}

std::optional<Segment> first_gap(const SparseImage& image, const Segment& range) {
  const std::vector<Segment>& segments = image.segments();
  auto next = std::upper_bound(
      segments.begin(), segments.end(), range.address,
      [](std::uint64_t address, const Segment& segment) { return address < segment.end(); });
  std::uint64_t gap = range.address;
  if (next != segments.end() && next->address <= gap) {
    gap = next->end();
    ++next;
  }
  if (gap >= range.end()) {
    return std::nullopt;
  }
  const std::uint64_t end =
      next == segments.end() ? range.end() : std::min(range.end(), next->address);
  return Segment{gap, end - gap};
}

Try<Segment> range_to_walk(const SparseImage& image, const std::optional<Segment>& wanted,
                           const std::optional<std::uint8_t>& fill, std::uint64_t longest) {
  const std::optional<Segment> range = wanted ? wanted : extent(image);
  if (!range || range->length == 0) {
    return Unexpected(refused("image-empty", "there are no bytes to work on",
                              "name a range, or a file that holds data"));
  }
  const std::uint64_t room = std::numeric_limits<std::uint64_t>::max() - range->address;
  if (range->length > std::min(longest, room)) {
    Error error = refused("image-range", "address range is too long",
                          "name a shorter range; the image may hold bytes that are far apart");
    error.found = spell_count(range->length, "byte") + " from " + spell_address(range->address);
    error.expected = "at most " + std::to_string(std::min(longest, room));
    return Unexpected(std::move(error));
  }
  const std::optional<Segment> gap = fill ? std::nullopt : first_gap(image, *range);
  if (gap) {
    Error error = refused("image-gap", "the image does not hold every byte of the range",
                          "state the value that absent bytes have, or a range without gaps");
    error.place.item = "address " + spell_address(gap->address);
    error.found = spell_count(gap->length, "absent byte");
    error.expected =
        "bytes from " + spell_address(range->address) + " to " + spell_address(range->end() - 1);
    return Unexpected(std::move(error));
  }
  return *range;
}

} // namespace cardseal::image
