// The package seals no map of the device's regions. What it does seal of memory are segments,
// placements of serials and kept ranges; what lies between them belongs to none.
#include <algorithm>
#include <vector>

#include "page/draw.h"
#include "page/spell.h"

namespace cardseal::page {
namespace {

struct Piece {
  std::uint64_t address = 0;
  std::uint64_t length = 0;
  std::string_view kind; // the section that says what it is
  std::string_view region;
  std::size_t index = 0; // in its list of the manifest

  std::uint64_t end() const { return address + length; }
};

constexpr std::uint64_t far = 0x40000;     // pieces further apart are on strips of their own
constexpr std::uint64_t strip_width = 640; // units of the drawing
constexpr std::uint64_t least_width = 3;   // so that one byte can be seen

std::vector<Piece> pieces_of(const format::Manifest& m) {
  std::vector<Piece> out;
  const auto index = [](const auto& list, const auto& item) {
    return static_cast<std::size_t>(&item - list.items.data());
  };
  for (const format::Segment& s : m.segments.view()) {
    out.push_back({s.address, s.length, "FIRMWARE", "", index(m.segments, s)});
  }
  for (const format::KeptRange& k : m.kept.view()) {
    out.push_back({k.address, k.length, "KEPT", k.region.view(), index(m.kept, k)});
  }
  for (const format::Placement& p : m.placements.view()) {
    out.push_back({p.address, p.length, "SERIAL", p.region.view(), index(m.placements, p)});
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const Piece& a, const Piece& b) { return a.address < b.address; });
  return out;
}

// With what lies between, which no piece covers.
std::vector<Piece> with_gaps(const std::vector<Piece>& pieces) {
  std::vector<Piece> out;
  std::uint64_t end = pieces.front().address;
  for (const Piece& piece : pieces) {
    if (piece.address > end) {
      out.push_back({end, piece.address - end, "EMPTY", "", 0});
    }
    out.push_back(piece);
    end = std::max(end, piece.end());
  }
  return out;
}

void put_piece(Fields& strip, const Piece& piece, std::uint64_t start, std::uint64_t length) {
  const std::uint64_t width = std::max(least_width, piece.length * strip_width / length);
  const std::uint64_t x = (piece.address - start) * strip_width / length;
  Fields& row = strip.add("PIECE");
  row.set("X", std::min(x, strip_width - std::min(width, strip_width)));
  row.set("WIDTH", std::min(width, strip_width));
  row.set("FROM", address(piece.address));
  row.set("TO", address(piece.end() - 1));
  row.set("ADDRESS", piece.address);
  row.set("BYTES", piece.length);
  Fields& kind = row.add(piece.kind);
  kind.set("AT", piece.index);
  if (!piece.region.empty()) {
    kind.add("IN").set("REGION", piece.region);
  }
}

void put_strip(Fields& page, std::vector<Piece> pieces) {
  pieces = with_gaps(pieces);
  std::uint64_t end = 0;
  for (const Piece& piece : pieces) {
    end = std::max(end, piece.end());
  }
  const std::uint64_t start = pieces.front().address;
  Fields& strip = page.add("STRIP");
  strip.set("STRIP_FROM", address(start));
  strip.set("STRIP_TO", address(end - 1));
  strip.set("STRIP_BYTES", end - start);
  for (const Piece& piece : pieces) {
    put_piece(strip, piece, start, end - start);
  }
}

} // namespace

void put_memory(Fields& page, const format::Manifest& manifest) {
  std::vector<Piece> strip;
  std::uint64_t end = 0;
  for (const Piece& piece : pieces_of(manifest)) {
    if (!strip.empty() && piece.address > end + far) {
      put_strip(page, std::move(strip));
      strip.clear();
    }
    strip.push_back(piece);
    end = std::max(strip.size() == 1 ? 0 : end, piece.end());
  }
  put_strip(page, std::move(strip)); // a manifest has a segment at least
}

} // namespace cardseal::page
