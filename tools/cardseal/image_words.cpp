#include "image_words.h"

#include <charconv>
#include <limits>

#include "base/number.h"
#include "common.h"

namespace cardseal::tool {
namespace {

constexpr const char* range_form = "FIRST-LAST, such as 0x8000-0xFFFF";

Try<std::uint8_t> to_byte(const std::string& text, const char* what) {
  TRY(value, to_number(text, what));
  if (value > 0xFF) {
    return Unexpected(usage_error(std::string(what) + " is no byte", text, "0 to 0xFF"));
  }
  return static_cast<std::uint8_t>(value);
}

} // namespace

Try<std::vector<std::uint8_t>> to_bytes(std::string text, const char* what) {
  for (char& c : text) {
    c = c >= 'A' && c <= 'F' ? static_cast<char>(c - 'A' + 'a') : c;
  }
  std::vector<std::uint8_t> bytes(text.size() / 2);
  if (bytes.empty() || text.size() % 2 != 0 || !parse_hex_bytes(text, bytes)) {
    return Unexpected(
        usage_error(std::string(what) + " are no bytes", text, "two hex digits for each byte"));
  }
  return bytes;
}

// NAME:ADDRESS:BYTES
Try<std::vector<image::NamedBytes>> to_named_bytes(const std::vector<std::string>& texts,
                                                   const char* what) {
  std::vector<image::NamedBytes> out;
  for (const std::string& text : texts) {
    const std::vector<std::string> parts = split(text, ':');
    if (parts.size() != 3) {
      return Unexpected(usage_error(std::string(what) + " can't be read", text,
                                    "NAME:ADDRESS:BYTES, such as number:0x3FF0:464E3031"));
    }
    TRY(address, to_number(parts[1], what));
    TRY(bytes, to_bytes(parts[2], what));
    out.push_back({parts[0], address, std::move(bytes)});
  }
  return out;
}

Try<image::LoadOptions> load_options(const ImageOptions& options) {
  image::LoadOptions load;
  if (!options.format.empty()) {
    TRY(format, to_word(options.format, image::format_words, "the format"));
    load.format = static_cast<image::Format>(format);
  }
  load.raw_address = options.address;
  for (const std::string& allowed : options.allow) {
    constexpr std::array<std::string_view, 2> words{"missing-end", "comments"};
    TRY(which, to_word(allowed, words, "what to allow"));
    (which == 0 ? load.hex.allow_missing_end : load.hex.allow_comments) = true;
  }
  if (!options.elf_by.empty()) {
    constexpr std::array<std::string_view, 2> words{"sections", "segments"};
    TRY(which, to_word(options.elf_by, words, "how to read ELF"));
    load.elf_mode = which == 0 ? image::ElfMode::sections : image::ElfMode::segments;
  }
  load.elf_unit = options.address_unit;
  return load;
}

Try<std::uint64_t> to_number(const std::string& text, const char* what) {
  const bool is_hex = text.size() > 2 && text[0] == '0' && (text[1] == 'x' || text[1] == 'X');
  const char* const first = text.data() + (is_hex ? 2 : 0);
  const char* const end = text.data() + text.size();
  std::uint64_t value = 0;
  const auto done = std::from_chars(first, end, value, is_hex ? 16 : 10);
  if (done.ec != std::errc() || done.ptr != end) {
    return Unexpected(usage_error(std::string(what) + " is no number", text,
                                  "digits, or hex digits after 0x; 64 bits"));
  }
  return value;
}

Try<image::Segment> to_range(const std::string& text, const char* what) {
  const std::vector<std::string> parts = split(text, '-');
  if (parts.size() != 2) {
    return Unexpected(usage_error(std::string(what) + " is no range", text, range_form));
  }
  TRY(first, to_number(parts[0], what));
  TRY(last, to_number(parts[1], what));
  if (last < first || last == std::numeric_limits<std::uint64_t>::max()) {
    return Unexpected(usage_error(std::string(what) + " is no range", text,
                                  "a last address that is not below the first"));
  }
  return image::Segment{first, last - first + 1};
}

Try<image::NamedRange> to_named(const std::string& text, const char* what) {
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() != 2 || parts[0].empty()) {
    return Unexpected(
        usage_error(std::string(what) + " can't be read", text, std::string("NAME:") + range_form));
  }
  TRY(range, to_range(parts[1], what));
  return image::NamedRange{parts[0], range};
}

Try<std::vector<image::NamedRange>> to_named(const std::vector<std::string>& texts,
                                             const char* what) {
  std::vector<image::NamedRange> out;
  for (const std::string& text : texts) {
    TRY(named, to_named(text, what));
    out.push_back(std::move(named));
  }
  return out;
}

Try<std::int64_t> to_offset(const std::string& text) {
  const bool sign = !text.empty() && (text[0] == '-' || text[0] == '+');
  TRY(amount, to_number(text.substr(sign ? 1 : 0), "the move"));
  if (amount > static_cast<std::uint64_t>(std::numeric_limits<std::int64_t>::max())) {
    return Unexpected(usage_error("the move is too far", text, "at most 0x7FFFFFFFFFFFFFFF"));
  }
  const auto offset = static_cast<std::int64_t>(amount);
  return text[0] == '-' ? -offset : offset;
}

Try<FillWords> to_fill(const std::string& text) {
  FillWords out;
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() > 2) {
    return Unexpected(usage_error("the fill can't be read", text, "[FIRST-LAST:]VALUE"));
  }
  if (parts.size() == 2) {
    TRY(range, to_range(parts[0], "the range to fill"));
    out.range = range;
  }
  TRY(value, to_byte(parts.back(), "the value to fill with"));
  out.value = value;
  return out;
}

Try<AlignWords> to_align(const std::string& text) {
  AlignWords out;
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() > 2) {
    return Unexpected(usage_error("the alignment can't be read", text, "UNIT[:VALUE]"));
  }
  TRY(unit, to_number(parts[0], "the unit"));
  out.unit = unit;
  if (parts.size() == 2) {
    TRY(value, to_byte(parts[1], "the value to align with"));
    out.value = value;
  }
  return out;
}

Try<std::optional<image::StartAddress>> to_start(const std::string& text,
                                                 const std::optional<image::StartAddress>& own) {
  if (text.empty()) {
    return own;
  }
  if (text == "none") {
    return std::optional<image::StartAddress>();
  }
  TRY(value, to_number(text, "the start address"));
  return std::optional(image::StartAddress{image::StartKind::linear, value, 0});
}

} // namespace cardseal::tool
