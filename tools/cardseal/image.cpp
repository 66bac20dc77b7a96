#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "image/checksums.h"
#include "image/compare.h"
#include "image/intel_hex.h"
#include "image/load.h"
#include "image/raw.h"
#include "view/json.h"

namespace cardseal::tool {
namespace {

Try<image::LoadOptions> load_options(const ImageOptions& options) {
  image::LoadOptions load;
  if (!options.format.empty()) {
    constexpr std::array<std::string_view, 2> words{"intel-hex", "raw"};
    TRY(format, to_word(options.format, words, "the format"));
    load.format = format == 0 ? image::Format::intel_hex : image::Format::raw;
  }
  load.raw_address = options.address;
  for (const std::string& allowed : options.allow) {
    constexpr std::array<std::string_view, 2> words{"missing-end", "comments"};
    TRY(which, to_word(allowed, words, "what to allow"));
    (which == 0 ? load.hex.allow_missing_end : load.hex.allow_comments) = true;
  }
  return load;
}

void print_sums(const image::SparseImage& image) {
  const image::SumRange over{std::nullopt, 0xFF};
  if (const auto sum = image::byte_sum_32(image, over)) {
    say(fmt::format("sum       {:08X}  byte-sum-32, gaps as FF", *sum));
  }
  for (const char* name : {"CRC-32/ISO-HDLC", "CRC-16/IBM-3740"}) {
    if (const auto sum = image::image_crc(image, *find_crc(name), over)) {
      say(fmt::format("sum       {:08X}  {}, gaps as FF", *sum, name));
    }
  }
}

void print(const image::Loaded& loaded) {
  const image::Firmware& firmware = loaded.firmware;
  say(fmt::format("file      {}  {}, {} bytes", escaped(loaded.file),
                  loaded.format == image::Format::intel_hex ? "intel-hex" : "raw",
                  loaded.file_size));
  say(fmt::format("          sha256 {}", crypto::hex(loaded.file_digest)));
  say(fmt::format("image     {} bytes in {} segment(s)", firmware.image.size(),
                  firmware.image.segments().size()));
  say(fmt::format("          sha256 {}  (of addresses, lengths and bytes)",
                  crypto::hex(firmware.image.digest())));
  say(fmt::format("          sha256 {}  (of the bytes alone)",
                  crypto::hex(crypto::sha256(firmware.image.image_bytes()))));
  for (const image::Segment& segment : firmware.image.segments()) {
    say(fmt::format("segment   0x{:08X} to 0x{:08X}  {} bytes", segment.address, segment.end() - 1,
                    segment.length));
  }
  print_sums(firmware.image);
  if (firmware.start) {
    say(fmt::format("start     0x{:08X}  {}", firmware.start->value,
                    image::word_of(firmware.start->kind)));
  }
  for (const image::Note& each : firmware.notes.all()) {
    say(fmt::format("noted     {} x{}, first in line {}{}", each.id, each.count, each.line,
                    each.detail.empty() ? "" : ", " + each.detail));
  }
  for (const image::TextLine& line : firmware.text_after_end) {
    say(fmt::format("text      line {}: {}", line.line, escaped(line.text)));
  }
}

void print(const image::Comparison& comparison) {
  if (comparison.same()) {
    say(fmt::format("same      all {} bytes", comparison.equal_bytes));
    return;
  }
  say(fmt::format("differ    {} bytes; {} only in the first, {} only in the second, {} equal",
                  comparison.different_bytes, comparison.only_in_a, comparison.only_in_b,
                  comparison.equal_bytes));
  constexpr std::string_view kinds[] = {"differ", "first", "second"};
  for (const image::DifferentRange& range : comparison.ranges) {
    say(fmt::format("  {:<7} 0x{:08X}  {} bytes  {} / {}",
                    kinds[static_cast<std::size_t>(range.what)], range.range.address,
                    range.range.length, crypto::hex(range.a), crypto::hex(range.b)));
  }
}

Try<std::vector<std::uint8_t>> convert(const ImageOptions& options,
                                       const image::SparseImage& image) {
  constexpr std::array<std::string_view, 2> words{"intel-hex", "raw"};
  TRY(to, to_word(options.to, words, "the output format"));
  if (to == 0) {
    image::HexWriteOptions write;
    write.record_length = options.record_length;
    write.line_end = options.crlf ? image::LineEnd::crlf : image::LineEnd::lf;
    return image::write_intel_hex(image, write);
  }
  image::RawWriteOptions write;
  if (options.fill) {
    write.fill = static_cast<std::uint8_t>(*options.fill);
  }
  return image::write_raw(image, write);
}

} // namespace

Ran run_image(const ImageOptions& options) {
  io::System& system = io::real_system();
  TRY(load, load_options(options));
  TRY(loaded, image::load_firmware(system, options.file, load));
  std::optional<image::Comparison> comparison;
  if (!options.against.empty()) {
    // A second file that is Intel HEX by content is read as such, whatever the first was said to
    // be.
    TRY(second, io::read_file(system, options.against, image::longest_firmware_file));
    image::LoadOptions by_content;
    by_content.hex = load.hex;
    const bool is_hex = image::detect(second).has_value();
    TRY(other, image::load_firmware(second, options.against, is_hex ? by_content : load));
    comparison = image::compare(loaded.firmware.image, other.firmware.image);
  }
  if (!options.output.empty()) {
    TRY(bytes, convert(options, loaded.firmware.image));
    TRY_VOID(io::write_file(system, options.output, bytes, if_exists(options.force)));
  }
  if (options.json) {
    say(view::json_of(loaded, comparison ? &*comparison : nullptr));
  } else {
    print(loaded);
    if (comparison) {
      print(*comparison);
    }
  }
  return comparison && !comparison->same() ? 1 : 0;
}

} // namespace cardseal::tool
