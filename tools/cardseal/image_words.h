// The arguments of `cardseal image`, from words to values. Numbers are decimal, or hex after 0x;
// ranges name their first and last address.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "commands.h"
#include "image/load.h"
#include "image/operations.h"
#include "image/read_back.h"

namespace cardseal::tool {

Try<image::LoadOptions> load_options(const ImageOptions& options);

Try<std::uint64_t> to_number(const std::string& text, const char* what);
Try<image::Segment> to_range(const std::string& text, const char* what);    // FIRST-LAST
Try<image::NamedRange> to_named(const std::string& text, const char* what); // NAME:FIRST-LAST
Try<std::vector<image::NamedRange>> to_named(const std::vector<std::string>& texts,
                                             const char* what);
Try<std::int64_t> to_offset(const std::string& text); // with or without a sign

// [FIRST-LAST:]VALUE and UNIT[:VALUE]
struct FillWords {
  std::optional<image::Segment> range;
  std::uint8_t value = 0xFF;
};
Try<FillWords> to_fill(const std::string& text);
struct AlignWords {
  std::uint64_t unit = 1;
  std::uint8_t value = 0xFF;
};
Try<AlignWords> to_align(const std::string& text);

// The start address to write: the image's own, none, or the one stated.
Try<std::optional<image::StartAddress>> to_start(const std::string& text,
                                                 const std::optional<image::StartAddress>& own);

Try<std::vector<std::uint8_t>> to_bytes(std::string text, const char* what); // hex digits
Try<std::vector<image::NamedBytes>> to_named_bytes(const std::vector<std::string>& texts,
                                                   const char* what); // NAME:ADDRESS:BYTES

} // namespace cardseal::tool
