#include "image/image_builder.h"

#include <algorithm>
#include <limits>
#include <utility>

#include "image/spell.h"

namespace cardseal::image {
namespace {

// The part [from, to) of a piece, which is not empty.
Piece cut(const Piece& piece, std::uint64_t from, std::uint64_t to) {
  Piece part = piece;
  const std::uint64_t skipped = from - piece.address;
  part.line = piece.line_of(from);
  if (piece.bytes_per_line != 0) {
    part.into_line = static_cast<std::uint8_t>((piece.into_line + skipped) % piece.bytes_per_line);
  }
  part.address = from;
  part.offset += skipped;
  part.length = to - from;
  return part;
}

// The line that may follow `last` in the same piece, when `last` ends with a whole line.
Piece next_line(const Piece& last) {
  Piece next;
  const std::uint64_t width = last.bytes_per_line;
  if (width != 0 && (last.into_line + last.length) % width == 0) {
    next = last;
    next.address = last.end();
    next.line += static_cast<std::uint32_t>((last.into_line + last.length) / width);
  }
  return next;
}

// Does `next` go on where `last` stops, so that one piece can describe both?
bool continues(const Piece& last, const Piece& next) {
  if (last.end() != next.address || last.file != next.file) {
    return false;
  }
  if (last.bytes_per_line == 0) {
    return next.bytes_per_line == 0 && last.line == next.line;
  }
  return next.bytes_per_line == next.length && next.length <= last.bytes_per_line &&
         next.into_line == 0 && next.line == next_line(last).line;
}

std::string spell(const Origin& origin, std::string_view main_file) {
  std::string out;
  if (origin.file != main_file) {
    out = " in " + std::string(origin.file);
  }
  if (origin.line != 0) {
    out += " on line " + std::to_string(origin.line);
  }
  return out;
}

Error conflict(std::uint64_t address, std::uint8_t early, const Origin& early_origin,
               std::uint8_t late, const Origin& late_origin) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "image-conflict";
  error.what = "one address is given two different bytes";
  error.place = {std::string(late_origin.file), late_origin.line, 0,
                 "address " + spell_address(address)};
  error.found = spell_byte(late) + spell(late_origin, late_origin.file);
  error.expected = spell_byte(early) + spell(early_origin, late_origin.file);
  error.hint = "find out where the firmware is built which of the two is right";
  return error;
}

// Of two pieces that hold `address`, does `a` give it after `b`?
bool gives_later(const Piece& a, const Piece& b, std::uint64_t address) {
  return a.file != b.file ? a.file > b.file : a.line_of(address) > b.line_of(address);
}

// Bytes given twice with the same value.
struct Doubles {
  std::uint64_t count = 0;
  std::uint64_t first = 0; // lowest address
  std::uint64_t last = 0;  // highest address
  std::uint32_t line = 0;  // the lowest that repeats something

  void add(std::uint64_t address, std::uint64_t length, std::uint32_t at_line) {
    first = count == 0 ? address : first;
    line = count == 0 ? at_line : std::min(line, at_line);
    last = std::max(last, address + length - 1);
    count += length;
  }
};

} // namespace

std::uint16_t ImageBuilder::add_file(std::string name) {
  image_.files_.push_back(std::move(name));
  return static_cast<std::uint16_t>(image_.files_.size() - 1);
}

void ImageBuilder::append(const Piece& piece, ByteView bytes) {
  io::BigBuffer<Piece>& pieces = image_.pieces_;
  ascending_ = ascending_ && (pieces.empty() || piece.address >= pieces.back().end());
  if (!pieces.empty() && continues(pieces.back(), piece)) {
    pieces.back().length += piece.length;
  } else {
    pieces.push_back(piece);
    pieces.back().offset = image_.bytes_.size();
  }
  image_.bytes_.append(bytes);
  next_ = next_line(pieces.back());
}

void ImageBuilder::add_piece_of_its_own(std::uint64_t address, ByteView bytes, std::uint16_t file,
                                        std::uint32_t line) {
  if (bytes.empty()) {
    return;
  }
  const bool lines = line != 0 && bytes.size() <= std::numeric_limits<std::uint8_t>::max();
  const auto width = static_cast<std::uint8_t>(lines ? bytes.size() : 0);
  append({address, 0, bytes.size(), line, file, width}, bytes);
}

void ImageBuilder::add_piece(const SparseImage& other, const Piece& piece, std::uint16_t first_file,
                             std::uint64_t from, std::uint64_t to, std::uint64_t shift) {
  from = std::max(from, piece.address);
  to = std::min(to, piece.end());
  if (from < to) {
    Piece part = cut(piece, from, to);
    const ByteView bytes = other.bytes_of(part);
    part.file = static_cast<std::uint16_t>(part.file + first_file);
    part.address += shift;
    append(part, bytes);
  }
}

// The first bytes of `piece`, `given`, lie at addresses that the pieces `kept` already hold.
Try<void> ImageBuilder::compare_with_kept(std::span<const Piece> kept, const Piece& piece,
                                          ByteView given) const {
  const ByteView there = image_.image_bytes().subspan(
      image_.size() - (kept.back().end() - piece.address), given.size());
  const auto differ = std::mismatch(given.begin(), given.end(), there.begin());
  if (differ.first == given.end()) {
    return {};
  }
  const std::uint64_t address =
      piece.address + static_cast<std::uint64_t>(differ.first - given.begin());
  const Piece& other = *find_piece(kept, address);
  const auto origin_of = [&](const Piece& each) {
    return Origin{image_.files_[each.file], each.line_of(address)};
  };
  if (gives_later(other, piece, address)) {
    return Unexpected(
        conflict(address, *differ.first, origin_of(piece), *differ.second, origin_of(other)));
  }
  return Unexpected(
      conflict(address, *differ.second, origin_of(other), *differ.first, origin_of(piece)));
}

void ImageBuilder::keep(std::size_t& kept, const Piece& piece, ByteView bytes) {
  const std::span<Piece> pieces = image_.pieces_.view();
  if (kept != 0 && continues(pieces[kept - 1], piece)) {
    pieces[kept - 1].length += piece.length;
  } else {
    pieces[kept] = piece;
    pieces[kept++].offset = image_.bytes_.size();
  }
  image_.bytes_.append(bytes);
}

// The list of pieces is sorted and shortened in its place; the bytes are moved once.
Try<void> ImageBuilder::put_in_order(Notes& notes) {
  const io::BigBuffer<std::uint8_t> bytes = std::exchange(image_.bytes_, {});
  const std::span<Piece> pieces = image_.pieces_.view();
  std::sort(pieces.begin(), pieces.end(), [](const Piece& a, const Piece& b) {
    return a.address != b.address ? a.address < b.address : a.offset < b.offset;
  });
  image_.bytes_.reserve(bytes.size());
  Doubles doubles;
  std::size_t kept = 0; // how many of the pieces, from the first on, are the image's
  for (std::size_t index = 0; index < pieces.size(); ++index) {
    const Piece piece = pieces[index];
    const std::uint64_t end = kept == 0 ? 0 : pieces[kept - 1].end();
    if (piece.address < end) {
      const std::uint64_t shared = std::min(piece.length, end - piece.address);
      auto same =
          compare_with_kept(pieces.first(kept), piece, bytes.view().subspan(piece.offset, shared));
      if (!same) {
        return same;
      }
      const Piece& other = *find_piece(pieces.first(kept), piece.address);
      const Piece& later = gives_later(other, piece, piece.address) ? other : piece;
      doubles.add(piece.address, shared, later.line_of(piece.address));
    }
    if (piece.end() > end) {
      const Piece part = cut(piece, std::max(piece.address, end), piece.end());
      keep(kept, part, bytes.view().subspan(part.offset, part.length));
    }
  }
  image_.pieces_.shorten(kept);
  if (doubles.count != 0) {
    notes.add(note::same_bytes, doubles.line,
              spell_address(doubles.first) + " to " + spell_address(doubles.last), doubles.count);
  }
  return {};
}

// Counted first: a list that grows by doubling would take three times its size for a moment.
void ImageBuilder::list_segments() {
  std::size_t count = 0;
  std::uint64_t end = 0;
  for (const Piece& piece : image_.pieces()) {
    count += count == 0 || piece.address != end ? 1 : 0;
    end = piece.end();
  }
  image_.segments_.reserve(count);
  image_.offsets_.reserve(count);
  for (const Piece& piece : image_.pieces()) {
    if (!image_.segments_.empty() && image_.segments_.back().end() == piece.address) {
      image_.segments_.back().length += piece.length;
    } else {
      image_.segments_.push_back({piece.address, piece.length});
      image_.offsets_.push_back(piece.offset);
    }
  }
}

Try<SparseImage> ImageBuilder::finish(Notes& notes) {
  if (!ascending_) {
    auto ordered = put_in_order(notes);
    if (!ordered) {
      return Unexpected(std::move(ordered).error());
    }
  }
  list_segments();
  return std::exchange(image_, {});
}

} // namespace cardseal::image
