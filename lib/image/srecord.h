// S-record, read and written.
// Source: Motorola M68000 Family Programmer's Reference Manual (M68000PM), Appendix C.
//
//   'S' type(1) count(2) address(4, 6 or 8) data checksum(2)     hex digits after the 'S'
//
//   S0 header; S1 S2 S3 data at an address of 16, 24 or 32 bits; S5 S6 the number of data records
//   so far, 16 or 24 bits; S7 S8 S9 end and start address, 32, 24 or 16 bits; S4 is reserved
//
// `count` is the bytes that follow it. The sum of all bytes of a record, count and checksum
// included, is 255 modulo 256.
//
// Where common readers disagree about a file it is refused; what is harmless is accepted and noted
// (image/notes.h). Errors are of kind bad_data, carry file, line and column, and have the codes
//
//   srec-empty srec-line-start srec-line-long srec-digit srec-short srec-long srec-checksum
//   srec-type srec-length srec-past-4g srec-count srec-no-end srec-after-end, and image-conflict
//   (image/image_builder.h)
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "base/bytes.h"
#include "diag/error.h"
#include "image/firmware.h"
#include "image/image_builder.h"
#include "image/intel_hex.h"

namespace cardseal::image {

struct SRecordReadOptions {
  bool allow_missing_end = false;
  bool allow_comments = false; // lines that start with ';', '#' or "//"
};

// Takes a file in pieces of any size, so that memory follows the image and not the file.
//
//   SRecordReader reader("frost-node.s19", {});
//   reader.feed(chunk);          // in order; after an error the reader is spent
//   reader.finish();             // once
class SRecordReader {
public:
  SRecordReader(std::string file, const SRecordReadOptions& options);

  // How many characters will come, when that is known: saves copies, changes nothing else.
  void expect(std::uint64_t characters);
  Try<void> feed(ByteView chunk);
  Try<Firmware> finish();

private:
  struct Record {
    std::uint8_t type = 0;  // 0 to 9
    std::uint8_t count = 0; // bytes that follow it
    std::uint8_t width = 0; // bytes of address
    std::uint32_t address = 0;
    std::array<std::uint8_t, 256> bytes{}; // the whole record; its address starts at 1
    std::uint8_t length() const { return static_cast<std::uint8_t>(count - width - 1); }
    ByteView data() const { return ByteView(bytes).subspan(1U + width, length()); }
  };

  std::size_t take_usual_lines(ByteView chunk);
  Try<void> take_line(ByteView line);
  Try<void> take_text_after_end(ByteView line);
  Try<void> take_record(ByteView text);
  Try<void> decode(ByteView text);
  Try<void> take_type(ByteView text);
  Try<void> take_digits(ByteView text, std::size_t wanted);
  Try<void> take_other_record();
  Try<void> take_count();
  void take_end();
  void take_header();
  Try<void> take_data();
  Error fault(const char* code, const char* what, std::uint32_t column) const;

  SRecordReadOptions options_;
  ImageBuilder builder_;
  std::uint16_t file_;
  Firmware out_;
  Record record_;
  std::vector<std::uint8_t> carry_; // the start of a line whose end has not come yet
  std::uint32_t line_ = 0;          // of the line in hand, from 1
  std::uint32_t column_ = 1;        // of the 'S' of the record in hand
  bool skip_line_feed_ = false;     // the last line ended with a carriage return
  bool any_byte_ = false;
  bool any_header_ = false;
  bool counted_ = false; // an S5 or S6 was there
  bool ended_ = false;
  std::uint8_t widest_ = 0; // bytes of address of the widest data record
  std::uint64_t data_records_ = 0;
  std::uint64_t last_address_ = 0;
};

Try<Firmware> read_srecord(ByteView text, std::string file, const SRecordReadOptions& options = {});

struct SRecordWriteOptions {
  std::uint32_t record_length = 16; // data bytes a record, 1 to 254 - address bytes
  LineEnd line_end = LineEnd::lf;
  std::optional<std::uint32_t> address_width; // 16, 24 or 32; else the least that does
  std::optional<StartAddress> start;          // in the end record; kind segmented: refused
};

// Upper-case digits; an empty S0, data records of one width, S5 or S6 with their number (none above
// 0xFFFFFF), and the end record that belongs to the width. Records start at a segment's start. One
// image has one text.
// Errors: usage "srec-record-length", "srec-width"; refused "srec-past-4g", "srec-past-width",
// "srec-start-wide", "srec-start-segmented".
Try<std::vector<std::uint8_t>> write_srecord(const SparseImage& image,
                                             const SRecordWriteOptions& options = {});

} // namespace cardseal::image
