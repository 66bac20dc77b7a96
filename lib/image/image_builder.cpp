#include "image/image_builder.h"

#include <algorithm>
#include <limits>
#include <utility>

#include "image/spell.h"

namespace cardseal::image {
namespace {

// A piece may start in the middle of a line of its source only when it holds no other line: so the
// part [from, to) of a piece takes up to two.
template <class Emit>
void cut(const Piece& piece, std::uint64_t from, std::uint64_t to, Emit emit) {
  while (from < to) {
    Piece part = piece;
    const std::uint64_t skipped = from - piece.address;
    const std::uint64_t width = piece.bytes_per_line;
    std::uint64_t upto = to;
    if (width != 0) {
      part.line += static_cast<std::uint32_t>(skipped / width);
      if (skipped % width != 0) {
        upto = std::min(to, from + (width - skipped % width));
        part.bytes_per_line = 0;
      }
    }
    part.address = from;
    part.offset += skipped;
    part.length = upto - from;
    emit(part);
    from = upto;
  }
}

// Does `next` go on where `last` stops, so that one piece can describe both?
bool continues(const Piece& last, const Piece& next) {
  if (last.end() != next.address || last.file != next.file) {
    return false;
  }
  if (last.bytes_per_line == 0) {
    return next.bytes_per_line == 0 && last.line == next.line;
  }
  return last.length % last.bytes_per_line == 0 && next.length <= last.bytes_per_line &&
         next.bytes_per_line == next.length &&
         next.line == last.line + last.length / last.bytes_per_line;
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
  std::vector<Piece>& pieces = image_.pieces_;
  ascending_ = ascending_ && (pieces.empty() || piece.address >= pieces.back().end());
  if (!pieces.empty() && continues(pieces.back(), piece)) {
    pieces.back().length += piece.length;
  } else {
    pieces.push_back(piece);
    pieces.back().offset = image_.bytes_.size();
  }
  image_.bytes_.insert(image_.bytes_.end(), bytes.begin(), bytes.end());
}

void ImageBuilder::add(std::uint64_t address, ByteView bytes, std::uint16_t file,
                       std::uint32_t line) {
  if (bytes.empty()) {
    return;
  }
  const bool lines = line != 0 && bytes.size() <= std::numeric_limits<std::uint16_t>::max();
  const auto width = static_cast<std::uint16_t>(lines ? bytes.size() : 0);
  append({address, 0, bytes.size(), line, file, width}, bytes);
}

void ImageBuilder::add_piece(const SparseImage& other, const Piece& piece, std::uint16_t first_file,
                             std::uint64_t from, std::uint64_t to) {
  cut(piece, std::max(from, piece.address), std::min(to, piece.end()), [&](Piece part) {
    const ByteView bytes = other.bytes_of(part);
    part.file = static_cast<std::uint16_t>(part.file + first_file);
    append(part, bytes);
  });
}

// The first bytes of `piece`, `given`, lie at addresses that the image already holds.
Try<void> ImageBuilder::compare_with_kept(const Piece& piece, ByteView given) const {
  const ByteView kept = image_.image_bytes().subspan(
      image_.size() - (image_.pieces_.back().end() - piece.address), given.size());
  const auto differ = std::mismatch(given.begin(), given.end(), kept.begin());
  if (differ.first == given.end()) {
    return {};
  }
  const std::uint64_t address =
      piece.address + static_cast<std::uint64_t>(differ.first - given.begin());
  const Piece& other = *image_.piece_at(address);
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

Try<void> ImageBuilder::put_in_order(Notes& notes) {
  std::vector<Piece> arrived = std::exchange(image_.pieces_, {});
  const std::vector<std::uint8_t> bytes = std::exchange(image_.bytes_, {});
  std::sort(arrived.begin(), arrived.end(), [](const Piece& a, const Piece& b) {
    return a.address != b.address ? a.address < b.address : a.offset < b.offset;
  });
  image_.bytes_.reserve(bytes.size());
  Doubles doubles;
  for (const Piece& piece : arrived) {
    const std::uint64_t end = image_.pieces_.empty() ? 0 : image_.pieces_.back().end();
    if (piece.address < end) {
      const std::uint64_t shared = std::min(piece.length, end - piece.address);
      auto same = compare_with_kept(piece, ByteView(bytes).subspan(piece.offset, shared));
      if (!same) {
        return same;
      }
      const Piece& kept = *image_.piece_at(piece.address);
      const Piece& later = gives_later(kept, piece, piece.address) ? kept : piece;
      doubles.add(piece.address, shared, later.line_of(piece.address));
    }
    cut(piece, std::max(piece.address, end), piece.end(), [&](const Piece& part) {
      append(part, ByteView(bytes).subspan(part.offset, part.length));
    });
  }
  if (doubles.count != 0) {
    notes.add(note::same_bytes, doubles.line,
              spell_address(doubles.first) + " to " + spell_address(doubles.last), doubles.count);
  }
  return {};
}

void ImageBuilder::list_segments() {
  for (const Piece& piece : image_.pieces_) {
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
