// Firmware in memory: bytes at addresses, with nothing between them. A byte that was written with
// the erased value is there; a byte that was never written is not.
//
// An image is made by an ImageBuilder (image/image_builder.h) and does not change afterwards.
// Addresses are byte addresses; the last one possible is 0xFFFFFFFFFFFFFFFE. Memory follows the
// bytes present: two bytes 4 GiB apart cost two bytes, and two entries in a list of 56 bytes each.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/bytes.h"
#include "crypto/sha256.h"
#include "io/big_buffer.h"

namespace cardseal::image {

// A range of addresses; address + length does not exceed 2^64 - 1.
struct Segment {
  std::uint64_t address = 0; // of the first byte
  std::uint64_t length = 0;  // bytes, never 0 in an image
  std::uint64_t end() const { return address + length; }
  friend bool operator==(const Segment&, const Segment&) = default;
};

// Where a byte came from; when it was given twice, one of the two. The line is 0 when the file has
// no lines.
struct Origin {
  std::string_view file; // lives as long as the image
  std::uint32_t line = 0;
};

// Neighbouring bytes that one file gave in order. Byte k is from line
// `line + (into_line + k) / bytes_per_line`, or from `line` when bytes_per_line is 0.
struct Piece {
  std::uint64_t address = 0;
  std::uint64_t offset = 0; // of the first byte in the image's bytes
  std::uint64_t length = 0;
  std::uint32_t line = 0;
  std::uint16_t file = 0; // index into files()
  std::uint8_t bytes_per_line = 0;
  std::uint8_t into_line = 0; // how far into its line the first byte is, below bytes_per_line
  std::uint64_t end() const { return address + length; }
  std::uint32_t line_of(std::uint64_t at) const; // `at` is inside
};

// The one of `pieces`, in address order, that holds `address`; null when none does.
const Piece* find_piece(std::span<const Piece> pieces, std::uint64_t address);

class SparseImage {
public:
  SparseImage() = default;

  // Maximal runs of bytes in address order: a byte is missing between any two.
  const std::vector<Segment>& segments() const { return segments_; }
  // The bytes of all segments in address order, one after the other.
  ByteView image_bytes() const { return bytes_.view(); }
  bool empty() const { return bytes_.empty(); }
  std::uint64_t size() const { return bytes_.size(); }

  std::optional<std::uint8_t> at(std::uint64_t address) const;
  // The bytes from `address` to the end of its segment; empty when `address` is absent.
  ByteView from(std::uint64_t address) const;
  std::optional<Origin> origin(std::uint64_t address) const;
  const Piece* piece_at(std::uint64_t address) const; // null when `address` is absent

  // SHA-256 over, for each segment in order, address and length (8 bytes each, big-endian) and then
  // its bytes.
  crypto::Digest digest() const;

  const std::vector<std::string>& files() const { return files_; }
  std::span<const Piece> pieces() const { return pieces_.view(); } // in address order, disjoint
  ByteView bytes_of(const Piece& piece) const {
    return image_bytes().subspan(piece.offset, piece.length);
  }

private:
  friend class ImageBuilder;
  std::vector<Segment> segments_;
  std::vector<std::uint64_t> offsets_; // of each segment's first byte in bytes_
  io::BigBuffer<std::uint8_t> bytes_;
  io::BigBuffer<Piece> pieces_;
  std::vector<std::string> files_;
};

} // namespace cardseal::image
