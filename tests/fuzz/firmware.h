// What holds of firmware, whichever format it came in.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "claim.h"
#include "image/image_builder.h"
#include "image/intel_hex.h"
#include "image/srecord.h"

namespace cardseal::fuzz {

using image::Firmware;
using image::SparseImage;

inline bool same_image(const SparseImage& a, const SparseImage& b) {
  return a.segments() == b.segments() && equal(a.image_bytes(), b.image_bytes()) &&
         a.digest() == b.digest();
}

// Everything that a reader says of a file, in one line.
inline std::string verdict(const Try<Firmware>& result) {
  std::string out;
  if (!result) {
    const Error& error = result.error();
    return "refused " + error.code + " " + std::to_string(error.place.line) + ":" +
           std::to_string(error.place.column) + " " + error.place.item + " " + error.found + "|" +
           error.expected;
  }
  for (const image::Note& each : result->notes.all()) {
    out.append(each.id).append(" ").append(each.detail).append(" ");
    out += std::to_string(each.count) + ":" + std::to_string(each.line) + " ";
  }
  for (const image::Piece& piece : result->image.pieces()) {
    out += std::to_string(piece.line_of(piece.address)) + "-" +
           std::to_string(piece.line_of(piece.end() - 1)) + " ";
  }
  return out + crypto::hex(result->image.digest());
}

inline void claim_sound(const SparseImage& image) {
  std::uint64_t total = 0;
  std::uint64_t end = 0;
  for (const image::Segment& segment : image.segments()) {
    claim(segment.length != 0 && (total == 0 || segment.address > end),
          "segments are not empty, ascending and do not touch");
    claim(image.from(segment.address).size() == segment.length, "a segment's bytes are all there");
    total += segment.length;
    end = segment.end();
  }
  claim(total == image.size(), "the segments hold all bytes");
  std::uint64_t in_pieces = 0;
  for (const image::Piece& piece : image.pieces()) {
    in_pieces += piece.length;
  }
  claim(in_pieces == total, "every byte has one origin");
}

// The order in which bytes come never changes the image.
inline void claim_any_order(const SparseImage& image) {
  image::ImageBuilder builder;
  for (const std::string& file : image.files()) {
    builder.add_file(file);
  }
  const auto pieces = image.pieces();
  for (std::size_t index = pieces.size(); index != 0; --index) {
    const image::Piece& piece = pieces[index - 1];
    const std::uint64_t middle = piece.address + piece.length / 3;
    builder.add_piece(image, piece, 0, middle, piece.end());
    builder.add_piece(image, piece, 0, piece.address, middle);
  }
  image::Notes notes;
  const Try<SparseImage> again = builder.finish(notes);
  claim(again.has_value() && notes.all().empty(), "pieces in any order are accepted");
  claim(same_image(*again, image), "pieces in any order give the same image");
}

// S-record lines stand alone, so that any order of them is a file.
inline void claim_any_order_of_lines(ByteView text, const SparseImage& image) {
  std::vector<std::string> lines;
  const std::string_view all = text_of(text);
  for (std::size_t at = 0; at < all.size();) {
    const std::size_t end = all.find('\n', at) + 1;
    lines.emplace_back(all.substr(at, end - at));
    at = end;
  }
  const auto is_data = [](const std::string& line) { return line[1] >= '1' && line[1] <= '3'; };
  const auto first = std::find_if(lines.begin(), lines.end(), is_data);
  const auto last = std::find_if_not(first, lines.end(), is_data);
  std::reverse(first, last);
  if (last - first > 3) {
    std::rotate(first, first + (last - first) / 3, last);
  }
  std::string shuffled;
  for (const std::string& line : lines) {
    shuffled += line;
  }
  const Try<Firmware> again = image::read_srecord(bytes_of(shuffled), "shuffled");
  claim(again.has_value() && same_image(again->image, image),
        "records in any order give the same image");
}

inline void claim_written_and_read(const SparseImage& image) {
  const bool fits = image.empty() || image.segments().back().end() - 1 <= 0xFFFFFFFF;
  for (const std::uint32_t length : {1U, 16U, 37U, 250U}) {
    image::HexWriteOptions hex;
    hex.record_length = length;
    const auto hex_text = image::write_intel_hex(image, hex);
    claim(hex_text.has_value() == fits, "what fits into 32 bits can be written as Intel HEX");
    image::SRecordWriteOptions srecord;
    srecord.record_length = length;
    const auto srecord_text = image::write_srecord(image, srecord);
    claim(srecord_text.has_value() == fits, "what fits into 32 bits can be written as S-record");
    if (!fits) {
      return;
    }
    const auto from_hex = image::read_intel_hex(*hex_text, "again.hex");
    claim(from_hex.has_value() && same_image(from_hex->image, image),
          "Intel HEX written and read again is the same image");
    const auto from_srecord = image::read_srecord(*srecord_text, "again.s19");
    claim(from_srecord.has_value() && same_image(from_srecord->image, image),
          "S-record written and read again is the same image");
    claim_any_order_of_lines(*srecord_text, image);
  }
}

inline void claim_all(const Try<Firmware>& result) {
  if (!result) {
    claim(!result.error().code.empty() && !result.error().what.empty() &&
              !result.error().hint.empty(),
          "an error says what is wrong and what to do");
    return;
  }
  claim_sound(result->image);
  claim_any_order(result->image);
  claim_written_and_read(result->image);
}

template <class Reader, class Options>
Try<Firmware> read_in_pieces(ByteView text, std::size_t size, const Options& options) {
  Reader reader("in", options);
  for (std::size_t at = 0; at < text.size(); at += size) {
    if (auto fed = reader.feed(text.subspan(at, std::min(size, text.size() - at))); !fed) {
      return Unexpected(std::move(fed).error());
    }
  }
  return reader.finish();
}

// Lines that come whole take the fast path, lines that come in pieces never do.
template <class Reader, class Options>
void claim_reader(ByteView text) {
  for (const bool permissive : {false, true}) {
    Options options;
    options.allow_missing_end = permissive;
    options.allow_comments = permissive;
    const Try<Firmware> whole = read_in_pieces<Reader>(text, text.size() + 1, options);
    const std::string expected = verdict(whole);
    for (const std::size_t size : {1U, 13U, 100U}) {
      claim(verdict(read_in_pieces<Reader>(text, size, options)) == expected,
            "a file in pieces gets the verdict of the whole");
    }
    claim(whole.has_value() || whole.error().place.line > 0, "an error has a line");
    claim_all(whole);
  }
}

} // namespace cardseal::fuzz
