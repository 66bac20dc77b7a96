// What a board gave back when its memory was read, against what was to be in it: every difference
// is explained or stands unexplained.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/bytes.h"
#include "diag/error.h"
#include "image/compare.h"
#include "image/operations.h"
#include "image/sparse_image.h"

namespace cardseal::image {

// Why neighbouring bytes differ from the image. Where several would do, the first one counts.
enum class Cause : std::uint8_t {
  unreadable,    // in a region that reads back as anything, or not at all
  serial,        // the bytes of this unit's serial number, exactly
  kept,          // in a location that keeps what the maker of the part wrote
  configuration, // only in bits that a configuration mask leaves open
  unexplained,
};
inline constexpr std::array<std::string_view, 5> cause_words{"unreadable", "serial", "kept",
                                                             "configuration", "unexplained"};

// Bytes at an address: a unit's serial number as it is in memory, or a mask of the bits that count.
struct NamedBytes {
  std::string name;
  std::uint64_t address = 0;
  std::vector<std::uint8_t> bytes;
};

// What memory of one region reads as without a byte of the image: one byte, or those of a word,
// repeated from the region's start.
struct ErasedRange {
  NamedRange place;
  std::vector<std::uint8_t> bytes; // 1 to 8
};

struct ReadBackRules {
  std::vector<NamedBytes> serial;        // of the unit that was read
  std::vector<NamedBytes> configuration; // masks
  // What a new part holds where the image has nothing: compared where it was read, under the masks.
  std::vector<NamedBytes> delivered;
  // One that reads as erased whole is a loss of what the maker wrote, and stays unexplained.
  std::vector<NamedRange> kept;
  std::vector<NamedRange> unreadable;
  // What other memory without a byte of the image reads as, repeated from address 0: one byte, or
  // those of a word ({0xFF, 0x3F} for words of 14 bits). Empty: it has to be absent as well.
  std::vector<std::uint8_t> erased;
  std::vector<ErasedRange> erased_in;
};

struct Explained {
  Cause cause = Cause::unexplained;
  std::string name; // of the range or bytes that explain it; empty when unexplained
  // a: what was expected there, for `serial` the image's own bytes; b: what was read.
  DifferentRange difference;
};

struct ReadBackReport {
  std::uint64_t equal_bytes = 0;
  std::uint64_t erased_bytes = 0; // read as erased where the image has nothing
  std::array<std::uint64_t, cause_words.size()> bytes{}; // different ones, by cause
  std::uint64_t range_count = 0;                         // all, also those not listed
  std::vector<Explained> ranges; // in address order; the first unexplained and the first others
  std::uint64_t unexplained_bytes() const {
    return bytes[static_cast<std::size_t>(Cause::unexplained)];
  }
};

// A serial number whose bytes are not all those of `rules` stays unexplained where it differs, also
// where the board holds the image's placeholder: another unit's number is no explanation.
// Errors (usage): "regions-overlap" for rules of one kind that overlap; "image-range" for one that
// passes the last address; "read-back-erased" for a pattern that is longer than 8 bytes, or empty
// in a range.
Try<ReadBackReport> explain(const SparseImage& image, const SparseImage& read_back,
                            const ReadBackRules& rules, std::size_t ranges_kept = 500);

} // namespace cardseal::image
