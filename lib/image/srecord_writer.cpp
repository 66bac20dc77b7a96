#include <algorithm>

#include "image/record_out.h"
#include "image/spell.h"
#include "image/srecord.h"

namespace cardseal::image {
namespace {

constexpr std::uint64_t most_counted = 0xFFFFFF; // S6 has no room for more

void write_record(RecordOut& out, unsigned type, std::uint64_t address, unsigned width,
                  ByteView data) {
  out.begin('S');
  out.character(static_cast<char>('0' + type));
  out.byte(static_cast<std::uint8_t>(width + data.size() + 1));
  for (unsigned left = width; left != 0; --left) {
    out.byte(static_cast<std::uint8_t>(address >> (8 * (left - 1))));
  }
  out.bytes(data);
  out.end(static_cast<std::uint8_t>(0xFFU - out.sum()));
}

Error problem(ErrorKind kind, const char* code, const char* what, std::string found,
              std::string expected) {
  Error error;
  error.kind = kind;
  error.code = code;
  error.what = what;
  error.found = std::move(found);
  error.expected = std::move(expected);
  return error;
}

// 0 for an image without bytes.
std::uint64_t last_address(const SparseImage& image) {
  return image.empty() ? 0 : image.segments().back().end() - 1;
}

Try<void> check_start(const SRecordWriteOptions& options, unsigned width) {
  if (!options.start) {
    return {};
  }
  if (options.start->kind == StartKind::segmented) {
    Error error = problem(ErrorKind::refused, "srec-start-segmented",
                          "S-record can't hold a segmented start address",
                          spell_address(options.start->value), "a linear one, or none");
    error.hint = "state the start address to write, or none";
    return Unexpected(std::move(error));
  }
  if (options.start->value >> (8 * width) != 0) {
    Error error = problem(ErrorKind::refused, "srec-start-wide",
                          "an end record of this width can't hold the start address",
                          spell_address(options.start->value),
                          "at most " + std::to_string(8 * width) + " bits");
    error.hint = "state a wider address, or no start address";
    return Unexpected(std::move(error));
  }
  return {};
}

// Bytes of address that the records get.
Try<unsigned> choose_width(const SparseImage& image, const SRecordWriteOptions& options) {
  const std::uint64_t last = last_address(image);
  if (last > 0xFFFFFFFF) {
    Error error = problem(ErrorKind::refused, "srec-past-4g", "S-record can't hold this address",
                          "last byte at " + spell_address(last), "0xFFFFFFFF at most");
    error.hint = "crop the image, or write another format";
    return Unexpected(std::move(error));
  }
  if (!options.address_width) {
    const bool start_counts = options.start && options.start->kind != StartKind::segmented;
    const std::uint64_t most = std::max(last, start_counts ? options.start->value : 0);
    return most <= 0xFFFF ? 2U : most <= 0xFFFFFF ? 3U : 4U;
  }
  const std::uint32_t bits = *options.address_width;
  if (bits != 16 && bits != 24 && bits != 32) {
    return Unexpected(problem(ErrorKind::usage, "srec-width", "there is no such address width",
                              std::to_string(bits), "16, 24 or 32 bits"));
  }
  if (last >> bits != 0) {
    Error error = problem(
        ErrorKind::refused, "srec-past-width", "records of this width can't hold this address",
        "last byte at " + spell_address(last), "at most " + std::to_string(bits) + " bits");
    error.hint = "state a wider address, or crop the image";
    return Unexpected(std::move(error));
  }
  return bits / 8;
}

Try<void> check_length(const SRecordWriteOptions& options, unsigned width) {
  const std::uint32_t most = 254 - width; // the count is a byte, and counts the checksum as well
  if (options.record_length >= 1 && options.record_length <= most) {
    return {};
  }
  return Unexpected(problem(ErrorKind::usage, "srec-record-length", "record length is out of range",
                            std::to_string(options.record_length),
                            "1 to " + std::to_string(most) + " bytes"));
}

} // namespace

Try<std::vector<std::uint8_t>> write_srecord(const SparseImage& image,
                                             const SRecordWriteOptions& options) {
  const Try<unsigned> width = choose_width(image, options);
  if (!width) {
    return Unexpected(width.error());
  }
  for (const Try<void>& fits : {check_length(options, *width), check_start(options, *width)}) {
    if (!fits) {
      return Unexpected(fits.error());
    }
  }
  const std::uint64_t likely = image.size() / options.record_length + image.segments().size();
  RecordOut text(options.line_end, 2 * image.size() + 16 * likely + 64);
  write_record(text, 0, 0, 2, {});
  std::uint64_t count = 0;
  for (const Segment& segment : image.segments()) {
    const ByteView bytes = image.from(segment.address);
    for (std::uint64_t at = 0; at < segment.length; at += options.record_length, ++count) {
      const auto length = std::min<std::uint64_t>(options.record_length, segment.length - at);
      write_record(text, *width - 1, segment.address + at, *width, bytes.subspan(at, length));
    }
  }
  if (count <= most_counted) {
    const bool is_short = count <= 0xFFFF;
    write_record(text, is_short ? 5 : 6, count, is_short ? 2 : 3, {});
  }
  write_record(text, 11 - *width, options.start ? options.start->value : 0, *width, {});
  return text.take();
}

} // namespace cardseal::image
