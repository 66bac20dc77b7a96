// Collects bytes at addresses in any order and makes the SparseImage of them. The order in which
// bytes arrive never changes the image.
//
//   ImageBuilder builder;
//   const std::uint16_t file = builder.add_file("frost-node.hex");
//   builder.add(0x100, bytes, file, line);
//   Try<SparseImage> image = builder.finish(notes);   // once; the builder is spent
//
// Memory: the bytes themselves, 32 bytes for each piece (a run of bytes with its lines; a file in
// order is one piece a segment, a shuffled one has a piece a record), 24 for each segment; and
// while finishing what is not in ascending order, the bytes once more. Nothing depends on
// addresses.
#pragma once

#include <cstdint>
#include <span>
#include <string>

#include "base/bytes.h"
#include "diag/error.h"
#include "image/notes.h"
#include "image/sparse_image.h"

namespace cardseal::image {

class ImageBuilder {
public:
  std::uint16_t add_file(std::string name); // at most 65,535 files
  const std::string& file_name(std::uint16_t file) const { return image_.files_[file]; }

  void reserve(std::uint64_t byte_count) { image_.bytes_.reserve(byte_count); }

  // Where the next bytes will be kept: what is written there and then added is not copied.
  std::uint8_t* room(std::size_t byte_count) { return image_.bytes_.room(byte_count); }

  // `line` 0: the file has no lines. address + bytes.size() must not exceed 2^64 - 1; a caller
  // whose input could do so checks first.
  void add(std::uint64_t address, ByteView bytes, std::uint16_t file, std::uint32_t line) {
    const bool goes_on = address == next_.address && line == next_.line && file == next_.file &&
                         bytes.size() == next_.bytes_per_line;
    if (!goes_on || bytes.empty()) {
      add_piece_of_its_own(address, bytes, file, line);
      return;
    }
    image_.pieces_.back().length += bytes.size();
    next_.address += bytes.size();
    ++next_.line;
    image_.bytes_.append(bytes);
  }
  // The part [from, to) of a piece of another image, whose files were added in order from
  // `first_file`; `shift` higher (modulo 2^64).
  void add_piece(const SparseImage& other, const Piece& piece, std::uint16_t first_file,
                 std::uint64_t from, std::uint64_t to, std::uint64_t shift = 0);

  // Bytes given twice with one value are noted with their count (`same-bytes`); with two values
  // they are an error `image-conflict` that names the address, both places and both values.
  Try<SparseImage> finish(Notes& notes);

private:
  void add_piece_of_its_own(std::uint64_t address, ByteView bytes, std::uint16_t file,
                            std::uint32_t line);
  void append(const Piece& piece, ByteView bytes);
  Try<void> put_in_order(Notes& notes);
  void keep(std::size_t& kept, const Piece& piece, ByteView bytes);
  Try<void> compare_with_kept(std::span<const Piece> kept, const Piece& piece,
                              ByteView given) const;
  void list_segments();

  SparseImage image_; // its bytes and pieces in the order of arrival until finish()
  Piece next_;        // the full line that would go on where the last piece stops
  bool ascending_ = true;
};

} // namespace cardseal::image
