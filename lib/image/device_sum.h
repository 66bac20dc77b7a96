// Sums over memory as a device holds it: absent bytes read as a blank word, which may be wider than
// a byte, and parts of it need not be neighbours. For comparing with what a station shows or a
// programming specification prints.
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

#include "base/crc.h"
#include "diag/error.h"
#include "image/checksums.h"
#include "image/range.h"
#include "image/sparse_image.h"

namespace cardseal::image {

// Memory whose absent bytes read as `word`, low byte first, again and again from its start.
struct BlankRange {
  Segment range;
  std::uint32_t word = 0xFF;
  unsigned word_bytes = 1; // 1, 2 or 4
};

enum class SumKind : std::uint8_t {
  crc,
  byte_sum_16,    // of all bytes, modulo 2^16
  byte_sum_32,    // modulo 2^32
  word_sum_16_le, // of words of two bytes, low byte first, modulo 2^16
  word_sum_16_be,
};

struct SumForm {
  SumKind kind = SumKind::byte_sum_16;
  CrcModel crc{}; // kind crc only; its name may point into the text it was found by
  unsigned digits() const {
    return kind == SumKind::crc ? crc.width / 4 : kind == SumKind::byte_sum_32 ? 8 : 4;
  }
};

// byte-sum-16, byte-sum-32, word-sum-16-le, word-sum-16-be, or what parse_crc takes.
std::optional<SumForm> find_sum(std::string_view name);

// Over all ranges, one after the other. Errors (refused): "image-range" for more than
// `longest_summed` bytes in all; "sum-odd" when words don't fill them.
Try<std::uint32_t> sum_over(const SparseImage& image, const SumForm& form,
                            std::span<const BlankRange> ranges);

// Words of which only the bits of `mask` count.
struct MaskedWords {
  BlankRange memory; // a whole number of words
  std::uint32_t mask = 0xFF;
  bool by_byte = false; // every byte of a word counts for itself
};

// The sum of all words modulo 2^16, as programming specifications print it for an unprotected part:
// the code, and the configuration words masked by the bits that exist. Protected parts may print
// another formula. Errors: those of sum_over.
Try<std::uint16_t> device_sum_16(const SparseImage& image, std::span<const MaskedWords> memory);

// Calls take(ByteView) with the bytes of `memory` in order.
template <class Take>
void walk_blank(const SparseImage& image, const BlankRange& memory, Take take) {
  std::array<std::uint8_t, 4096> blank;
  for (std::size_t i = 0; i < blank.size(); ++i) {
    blank[i] = static_cast<std::uint8_t>(memory.word >> i % memory.word_bytes * 8);
  }
  std::uint64_t at = memory.range.address;
  while (at < memory.range.end()) {
    const std::uint64_t left = memory.range.end() - at;
    if (const ByteView present = image.from(at); !present.empty()) {
      const std::uint64_t length = std::min<std::uint64_t>(present.size(), left);
      take(present.first(length));
      at += length;
      continue;
    }
    const std::uint64_t phase = (at - memory.range.address) % memory.word_bytes;
    const std::uint64_t length =
        std::min<std::uint64_t>(first_gap(image, {at, left})->length, blank.size() - phase);
    take(ByteView(blank).subspan(phase, length));
    at += length;
  }
}

} // namespace cardseal::image
