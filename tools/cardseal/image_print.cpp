#include "image_print.h"

#include <fmt/format.h>

#include "common.h"
#include "crypto/sha256.h"
#include "image/checksums.h"
#include "image/range.h"

namespace cardseal::tool {
namespace {

constexpr std::size_t ranges_with_rows = 8;
constexpr std::size_t rows_shown = 6; // of one range
constexpr std::size_t lines_shown = 100;

// Sums are of everything between the first byte and the last.
constexpr std::uint64_t longest_summed = std::uint64_t{1} << 24; // bytes; 16 MiB

void print_sums(const image::SparseImage& image) {
  const std::optional<image::Segment> extent = image::extent(image);
  if (extent && extent->length > longest_summed) {
    say(fmt::format("sum       none: {} bytes from the first to the last, more than {}",
                    extent->length, longest_summed));
    return;
  }
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

void print_file(const image::Loaded& loaded) {
  std::string how(image::word_of(loaded.format));
  if (loaded.firmware.elf_mode) {
    how += fmt::format(" by {}", image::word_of(*loaded.firmware.elf_mode));
  }
  say(fmt::format("file      {}  {}, {} bytes", escaped(loaded.file), how, loaded.file_size));
  say(fmt::format("          sha256 {}", crypto::hex(loaded.file_digest)));
  if (!loaded.firmware.header.empty()) {
    say(fmt::format("header    {}", escaped(loaded.firmware.header)));
  }
}

void print_notes(const image::Firmware& firmware) {
  for (const image::Note& each : firmware.notes.all()) {
    std::string line = fmt::format("noted     {} x{}", each.id, each.count);
    line += each.line != 0 ? fmt::format(", first in line {}", each.line) : "";
    line += each.detail.empty() ? "" : ", " + each.detail;
    say(line);
  }
  for (const image::TextLine& line : firmware.text_after_end) {
    say(fmt::format("text      line {}: {}", line.line, escaped(line.text)));
  }
}

void print_segments(const image::SparseImage& image) {
  std::size_t shown = 0;
  for (const image::Segment& segment : image.segments()) {
    if (++shown > lines_shown) {
      say(fmt::format("segment   and {} more", image.segments().size() - lines_shown));
      return;
    }
    say(fmt::format("segment   0x{:08X} to 0x{:08X}  {} bytes", segment.address, segment.end() - 1,
                    segment.length));
  }
}

std::string row(const std::array<std::optional<std::uint8_t>, 16>& bytes) {
  std::string out;
  for (const auto& byte : bytes) {
    out += byte ? fmt::format(" {:02x}", *byte) : std::string(" --");
  }
  return out;
}

void print_rows(const image::SparseImage& first, const image::SparseImage& second,
                const image::Segment& range) {
  for (const image::Row& each : image::rows_around(first, second, range, 1, rows_shown)) {
    if (each.a == each.b) {
      say(fmt::format("    0x{:08X}  =  {}", each.address, row(each.a)));
      continue;
    }
    say(fmt::format("    0x{:08X}  1  {}", each.address, row(each.a)));
    say(fmt::format("    {:10}  2  {}", "", row(each.b)));
  }
}

std::string where(const image::SparseImage& image, std::uint64_t address) {
  const std::optional<image::Origin> origin = image.origin(address);
  return origin && origin->line != 0 ? fmt::format("line {}", origin->line) : std::string("-");
}

std::string of(const std::vector<std::uint8_t>& bytes, std::uint64_t length) {
  if (bytes.empty()) {
    return "nothing";
  }
  return crypto::hex(bytes) + (bytes.size() < length ? "..." : "");
}

} // namespace

void print(const image::Loaded& loaded, const std::vector<image::Loaded>& merged) {
  const image::Firmware& firmware = loaded.firmware;
  print_file(loaded);
  for (const image::Loaded& each : merged) {
    print_file(each);
    print_notes(each.firmware);
  }
  say(fmt::format("image     {} bytes in {} segment(s)", firmware.image.size(),
                  firmware.image.segments().size()));
  say(fmt::format("          sha256 {}  (of addresses, lengths and bytes)",
                  crypto::hex(firmware.image.digest())));
  say(fmt::format("          sha256 {}  (of the bytes alone)",
                  crypto::hex(crypto::sha256(firmware.image.image_bytes()))));
  print_segments(firmware.image);
  print_sums(firmware.image);
  if (firmware.start) {
    say(fmt::format("start     0x{:08X}  {}", firmware.start->value,
                    image::word_of(firmware.start->kind)));
  }
  print_notes(firmware);
}

void print(const std::vector<image::NamedRange>& regions, const image::Split& split) {
  const auto line = [](const std::string& name, const image::SparseImage& part) {
    say(fmt::format("region    {}  {} bytes in {} segment(s)", escaped(name), part.size(),
                    part.segments().size()));
    if (!part.empty()) {
      say(fmt::format("          sha256 {}", crypto::hex(part.digest())));
    }
  };
  for (std::size_t index = 0; index < regions.size(); ++index) {
    line(regions[index].name, split.parts[index]);
  }
  line("(in no region)", split.leftover);
}

void print(const image::Comparison& comparison, const image::SparseImage& first,
           const image::SparseImage& second) {
  if (comparison.same()) {
    say(fmt::format("same      all {} bytes", comparison.equal_bytes));
    return;
  }
  say(fmt::format("differ    {} bytes; {} only in the first, {} only in the second, {} equal",
                  comparison.different_bytes, comparison.only_in_a, comparison.only_in_b,
                  comparison.equal_bytes));
  constexpr std::string_view kinds[] = {"differ", "first", "second"};
  std::size_t shown = 0;
  for (const image::DifferentRange& range : comparison.ranges) {
    say(fmt::format("  {:<7} 0x{:08X}  {} bytes  {} / {}  ({} / {})",
                    kinds[static_cast<std::size_t>(range.what)], range.range.address,
                    range.range.length, of(range.a, range.range.length),
                    of(range.b, range.range.length), where(first, range.range.address),
                    where(second, range.range.address)));
    if (++shown <= ranges_with_rows) {
      print_rows(first, second, range.range);
    }
  }
  if (comparison.range_count > comparison.ranges.size()) {
    say(fmt::format("  and {} more ranges", comparison.range_count - comparison.ranges.size()));
  }
}

void print(const image::ReadBackReport& report) {
  say(fmt::format("read back {} bytes equal, {} erased where the image has nothing",
                  report.equal_bytes, report.erased_bytes));
  for (std::size_t cause = 0; cause < image::cause_words.size(); ++cause) {
    if (report.bytes[cause] != 0) {
      say(fmt::format("          {} bytes {}", report.bytes[cause], image::cause_words[cause]));
    }
  }
  for (const image::Explained& each : report.ranges) {
    const image::DifferentRange& range = each.difference;
    say(fmt::format("  {:<13} 0x{:08X}  {} bytes  {} / {}  {}",
                    image::cause_words[static_cast<std::size_t>(each.cause)], range.range.address,
                    range.range.length, of(range.a, range.range.length),
                    of(range.b, range.range.length), escaped(each.name)));
  }
  if (report.range_count > report.ranges.size()) {
    say(fmt::format("  and {} more ranges", report.range_count - report.ranges.size()));
  }
}

} // namespace cardseal::tool
