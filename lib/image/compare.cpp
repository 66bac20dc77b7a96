#include "image/compare.h"

#include <algorithm>
#include <limits>
#include <tuple>

namespace cardseal::image {
namespace {

// Walks the segments of one image in step with the other's.
class Cursor {
public:
  explicit Cursor(const SparseImage& image) : image_(image) { load(); }

  bool done() const { return index_ == image_.segments().size(); }
  std::uint64_t address() const {
    return done() ? std::numeric_limits<std::uint64_t>::max() : address_;
  }
  ByteView left() const { return left_; }
  void skip(std::uint64_t count) {
    address_ += count;
    left_ = left_.subspan(count);
    if (left_.empty()) {
      ++index_;
      load();
    }
  }

private:
  void load() {
    if (!done()) {
      address_ = image_.segments()[index_].address;
      left_ = image_.from(address_);
    }
  }
  const SparseImage& image_;
  std::size_t index_ = 0;
  std::uint64_t address_ = 0;
  ByteView left_;
};

class Report {
public:
  explicit Report(std::size_t ranges_kept) : ranges_kept_(ranges_kept) {}

  void take(std::uint64_t address, ByteView a, ByteView b) {
    if (a.empty() || b.empty()) {
      (a.empty() ? out_.only_in_b : out_.only_in_a) += std::max(a.size(), b.size());
      add(a.empty() ? Difference::only_in_b : Difference::only_in_a, address, a, b);
    } else {
      both(address, a, b);
    }
  }

  Comparison result() { return std::move(out_); }

private:
  void both(std::uint64_t address, ByteView a, ByteView b) {
    std::size_t at = 0;
    while (at < a.size()) {
      const auto here = static_cast<std::ptrdiff_t>(at);
      const auto differ = std::mismatch(a.begin() + here, a.end(), b.begin() + here).first;
      const auto from = static_cast<std::size_t>(differ - a.begin());
      std::size_t to = from;
      while (to < a.size() && a[to] != b[to]) {
        ++to;
      }
      out_.equal_bytes += from - at;
      out_.different_bytes += to - from;
      if (to != from) {
        add(Difference::bytes_differ, address + from, a.subspan(from, to - from),
            b.subspan(from, to - from));
      }
      at = to;
    }
  }

  // What goes on where the last range ended is the same range: segments of the other image may
  // divide it.
  void add(Difference what, std::uint64_t address, ByteView a, ByteView b) {
    const std::uint64_t length = std::max(a.size(), b.size());
    const bool goes_on = out_.range_count != 0 && last_what_ == what && last_end_ == address;
    last_what_ = what;
    last_end_ = address + length;
    if (!goes_on && ++out_.range_count <= ranges_kept_) {
      out_.ranges.push_back({what, {address, 0}, {}, {}});
    }
    if (out_.range_count > ranges_kept_) {
      return;
    }
    DifferentRange& range = out_.ranges.back();
    range.range.length += length;
    show(range.a, a);
    show(range.b, b);
  }

  static void show(std::vector<std::uint8_t>& shown, ByteView bytes) {
    const std::size_t room = std::min(bytes_shown - shown.size(), bytes.size());
    shown.insert(shown.end(), bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(room));
  }

  std::size_t ranges_kept_;
  Comparison out_;
  Difference last_what_ = Difference::bytes_differ;
  std::uint64_t last_end_ = 0;
};

} // namespace

void walk_both(const SparseImage& a, const SparseImage& b, const TakeBoth& take) {
  Cursor in_a(a);
  Cursor in_b(b);
  while (!in_a.done() || !in_b.done()) {
    const std::uint64_t from_a = in_a.address();
    const std::uint64_t from_b = in_b.address();
    if (from_a == from_b) {
      const std::size_t length = std::min(in_a.left().size(), in_b.left().size());
      take(from_a, in_a.left().first(length), in_b.left().first(length));
      in_a.skip(length);
      in_b.skip(length);
      continue;
    }
    const bool a_first = from_a < from_b;
    Cursor& first = a_first ? in_a : in_b;
    const std::uint64_t apart = a_first ? from_b - from_a : from_a - from_b;
    const ByteView alone = first.left().first(std::min<std::uint64_t>(first.left().size(), apart));
    take(first.address(), a_first ? alone : ByteView{}, a_first ? ByteView{} : alone);
    first.skip(alone.size());
  }
}

Comparison compare(const SparseImage& a, const SparseImage& b, std::size_t ranges_kept) {
  Report report(ranges_kept);
  walk_both(a, b, [&](std::uint64_t address, ByteView in_a, ByteView in_b) {
    report.take(address, in_a, in_b);
  });
  return report.result();
}

std::vector<Row> rows_around(const SparseImage& a, const SparseImage& b, const Segment& range,
                             std::uint64_t around, std::size_t most) {
  constexpr std::uint64_t wide = std::tuple_size_v<decltype(Row::a)>;
  const std::uint64_t first_row = range.address / wide;
  const std::uint64_t last_row = (range.end() - 1) / wide;
  const std::uint64_t end_row =
      std::min(last_row + around, std::numeric_limits<std::uint64_t>::max() / wide);
  std::vector<Row> rows;
  for (std::uint64_t row = first_row - std::min(first_row, around);
       row <= end_row && rows.size() < most; ++row) {
    Row next{row * wide, {}, {}};
    bool any = false;
    for (std::uint64_t index = 0; index < wide; ++index) {
      next.a[index] = a.at(next.address + index);
      next.b[index] = b.at(next.address + index);
      any = any || next.a[index] || next.b[index];
    }
    if (any) {
      rows.push_back(next);
    }
  }
  return rows;
}

} // namespace cardseal::image
