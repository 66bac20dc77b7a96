// Intel HEX, read and written.
// Source: Intel Hexadecimal Object File Format Specification, revision A, 1988.
//
//   ':' length(2) offset(4) type(2) data(2 * length) checksum(2)     hex digits
//
// The sum of all bytes of a record, checksum included, is 0 modulo 256.
//
// Where common readers disagree about a file it is refused; what is harmless is accepted and noted
// (image/notes.h). Errors are of kind bad_data, carry file, line and column, and have the codes
//
//   hex-empty hex-line-start hex-line-long hex-digit hex-short hex-long hex-checksum hex-type
//   hex-length hex-offset hex-past-64k hex-past-4g hex-two-bases hex-two-starts hex-no-end
//   hex-after-end, and image-conflict (image/image_builder.h)
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

namespace cardseal::image {

struct HexReadOptions {
  bool allow_missing_end = false;
  bool allow_comments = false; // lines that start with ';', '#' or "//"
};

// Takes a file in pieces of any size, so that memory follows the image and not the file.
//
//   IntelHexReader reader("frost-node.hex", {});
//   reader.feed(chunk);          // in order; after an error the reader is spent
//   reader.finish();             // once
class IntelHexReader {
public:
  IntelHexReader(std::string file, const HexReadOptions& options);

  // How many characters will come, when that is known: saves copies, changes nothing else.
  void expect(std::uint64_t characters);
  Try<void> feed(ByteView chunk);
  Try<Firmware> finish();

private:
  struct Record {
    std::uint8_t length = 0;
    std::uint16_t offset = 0;
    std::uint8_t type = 0;
    std::array<std::uint8_t, 260> bytes{}; // the whole record; its data starts at 4
    ByteView data() const { return ByteView(bytes).subspan(4, length); }
  };
  struct Base {
    std::uint32_t address = 0;
    std::uint32_t line = 0; // 0: no such record yet
    std::uint32_t column = 0;
  };
  enum class Mode : std::uint8_t { none, segment, linear };

  std::size_t take_usual_lines(ByteView chunk);
  Try<void> take_line(ByteView line);
  Try<void> take_text_after_end(ByteView line, std::uint32_t column);
  Try<void> take_record(ByteView text);
  Try<void> decode(ByteView text);
  Try<void> take_other_record();
  Try<void> take_base(Base& base, Mode mode, unsigned shift);
  Try<void> take_start(StartKind kind, std::uint32_t value);
  Try<void> take_end();
  Try<void> take_data();
  Try<void> check_bases() const;
  Error fault(const char* code, const char* what, std::uint32_t column) const;

  HexReadOptions options_;
  ImageBuilder builder_;
  std::uint16_t file_;
  Firmware out_;
  Record record_;
  std::vector<std::uint8_t> carry_; // the start of a line whose end has not come yet
  std::uint32_t line_ = 0;          // of the line in hand, from 1
  std::uint32_t column_ = 1;        // of the ':' of the record in hand
  bool skip_line_feed_ = false;     // the last line ended with a carriage return
  bool any_byte_ = false;
  bool ended_ = false;
  Mode mode_ = Mode::none;
  Base segment_; // type 02
  Base linear_;  // type 04
  std::uint64_t last_address_ = 0;
};

Try<Firmware> read_intel_hex(ByteView text, std::string file, const HexReadOptions& options = {});

enum class LineEnd : std::uint8_t { lf, crlf };

struct HexWriteOptions {
  std::uint32_t record_length = 16; // data bytes a record, 1 to 255
  LineEnd line_end = LineEnd::lf;
  std::optional<StartAddress> start; // written before the end record; kind end_record: in it
};

// Upper-case digits; type 04 records where the upper half of the address changes, none for the
// first 64 KiB; records start at a segment's start and at each 64 KiB. One image has one text.
// Errors: usage "hex-record-length"; refused "hex-past-4g", "hex-start-wide".
Try<std::vector<std::uint8_t>> write_intel_hex(const SparseImage& image,
                                               const HexWriteOptions& options = {});

} // namespace cardseal::image
