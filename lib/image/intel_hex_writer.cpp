#include <algorithm>

#include "image/intel_hex.h"
#include "image/record_out.h"
#include "image/spell.h"

namespace cardseal::image {
namespace {

void write_record(RecordOut& out, std::uint16_t offset, std::uint8_t type, ByteView data) {
  out.begin(':');
  out.byte(static_cast<std::uint8_t>(data.size()));
  out.byte(static_cast<std::uint8_t>(offset >> 8));
  out.byte(static_cast<std::uint8_t>(offset));
  out.byte(type);
  out.bytes(data);
  out.end(static_cast<std::uint8_t>(0U - out.sum()));
}

Error cannot_write(const char* code, const char* what, std::string found, std::string expected) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = code;
  error.what = what;
  error.found = std::move(found);
  error.expected = std::move(expected);
  return error;
}

Try<void> check(const SparseImage& image, const HexWriteOptions& options) {
  if (options.record_length < 1 || options.record_length > 255) {
    Error error = cannot_write("hex-record-length", "record length is out of range",
                               std::to_string(options.record_length), "1 to 255 bytes");
    error.kind = ErrorKind::usage;
    return Unexpected(std::move(error));
  }
  if (!image.empty() && image.segments().back().end() - 1 > 0xFFFFFFFF) {
    Error error = cannot_write("hex-past-4g", "Intel HEX can't hold this address",
                               "last byte at " + spell_address(image.segments().back().end() - 1),
                               "0xFFFFFFFF at most");
    error.hint = "crop the image, or write another format";
    return Unexpected(std::move(error));
  }
  if (!options.start) {
    return {};
  }
  const bool in_end = options.start->kind == StartKind::end_record;
  if (const std::uint64_t most = in_end ? 0xFFFF : 0xFFFFFFFF; options.start->value > most) {
    Error error =
        cannot_write("hex-start-wide", "this start address doesn't fit its record",
                     spell_address(options.start->value), spell_address(most) + " at most");
    error.hint = "state the start address to write, or none";
    return Unexpected(std::move(error));
  }
  return {};
}

void write_base(RecordOut& text, std::uint32_t upper) {
  std::uint8_t data[2];
  store_be16(data, static_cast<std::uint16_t>(upper));
  write_record(text, 0, 4, data);
}

void write_segment(RecordOut& text, std::uint64_t address, ByteView bytes,
                   std::uint32_t record_length, std::uint32_t& upper) {
  while (!bytes.empty()) {
    if (const auto wanted = static_cast<std::uint32_t>(address >> 16); wanted != upper) {
      upper = wanted;
      write_base(text, upper);
    }
    const auto offset = static_cast<std::uint16_t>(address & 0xFFFF);
    const std::size_t length =
        std::min({bytes.size(), std::size_t{record_length}, std::size_t{0x10000U} - offset});
    write_record(text, offset, 0, bytes.first(length));
    address += length;
    bytes = bytes.subspan(length);
  }
}

void write_end(RecordOut& text, const std::optional<StartAddress>& start) {
  std::uint16_t end_offset = 0;
  if (start && start->kind == StartKind::end_record) {
    end_offset = static_cast<std::uint16_t>(start->value);
  } else if (start) {
    std::uint8_t data[4];
    store_be32(data, static_cast<std::uint32_t>(start->value));
    write_record(text, 0, start->kind == StartKind::segmented ? 3 : 5, data);
  }
  write_record(text, end_offset, 1, {});
}

} // namespace

Try<std::vector<std::uint8_t>> write_intel_hex(const SparseImage& image,
                                               const HexWriteOptions& options) {
  if (auto fits = check(image, options); !fits) {
    return Unexpected(std::move(fits).error());
  }
  const std::uint64_t records = image.size() / options.record_length + 2 * image.segments().size();
  RecordOut text(options.line_end, 2 * image.size() + 14 * records + 64);
  std::uint32_t upper = 0;
  for (const Segment& segment : image.segments()) {
    write_segment(text, segment.address, image.from(segment.address), options.record_length, upper);
  }
  write_end(text, options.start);
  return text.take();
}

} // namespace cardseal::image
