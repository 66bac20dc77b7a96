#include "image/hex_digits.h"

#include <vector>

#include "base/bytes.h"

#if defined(__x86_64__) && defined(__GNUC__)
#define CARDSEAL_AVX2_BY_CHOICE
#include <immintrin.h>
#endif

namespace cardseal::image {
namespace {

constexpr std::uint16_t no_pair = 0x100; // any value above 255 does

unsigned value_of(std::uint8_t digit) {
  return digit <= '9' ? digit - '0' : (digit & 0xFU) + 9U;
}

// The byte that two characters spell, by both of them at once: one look-up a byte instead of two.
std::vector<std::uint16_t> make_pair_values() {
  std::vector<std::uint16_t> values(std::size_t{1} << 16, no_pair);
  for (std::uint32_t pair = 0; pair < values.size(); ++pair) {
    const auto high = static_cast<std::uint8_t>(pair & 0xFFU); // it comes first: lower address
    const auto low = static_cast<std::uint8_t>(pair >> 8);
    if (is_hex_digit(high) && is_hex_digit(low)) {
      values[pair] = static_cast<std::uint16_t>((value_of(high) << 4) | value_of(low));
    }
  }
  return values;
}

const std::uint16_t* pair_values() {
  static const std::vector<std::uint16_t> values = make_pair_values();
  return values.data();
}

} // namespace

bool is_hex_digit(std::uint8_t character) {
  return (character >= '0' && character <= '9') || (character >= 'A' && character <= 'F') ||
         (character >= 'a' && character <= 'f');
}

bool decode_digits_in_pairs(const std::uint8_t* digits, std::size_t count, std::uint8_t* out,
                            std::uint8_t& sum) {
  const std::uint16_t* const values = pair_values();
  unsigned all = 0;
  unsigned total = 0;
  for (std::size_t index = 0; index < count; ++index) {
    const unsigned byte = values[load_le16(digits + 2 * index)];
    all |= byte;
    total += byte;
    out[index] = static_cast<std::uint8_t>(byte);
  }
  sum = static_cast<std::uint8_t>(total);
  return all <= 0xFF;
}

std::uint64_t decode_eight_digits(const std::uint8_t* digits) {
  const std::uint16_t* const values = pair_values();
  const std::uint32_t first = values[load_le16(digits)];
  const std::uint32_t second = values[load_le16(digits + 2)];
  const std::uint32_t third = values[load_le16(digits + 4)];
  const std::uint32_t fourth = values[load_le16(digits + 6)];
  return (first | second | third | fourth) > 0xFF
             ? not_eight_digits
             : (first << 24) | (second << 16) | (third << 8) | fourth;
}

#ifdef CARDSEAL_AVX2_BY_CHOICE
namespace {

constexpr std::size_t vector_bytes = 16; // that 32 characters spell

// The bytes that 32 characters spell; `is_digit` gets ones in place of each that is a digit.
[[gnu::target("avx2")]] inline __m128i decode_32(const std::uint8_t* digits, __m256i& is_digit) {
  const __m256i text = _mm256_loadu_si256(reinterpret_cast<const __m256i*>(digits));
  const __m256i number = _mm256_sub_epi8(text, _mm256_set1_epi8('0'));
  const __m256i letter =
      _mm256_sub_epi8(_mm256_or_si256(text, _mm256_set1_epi8(0x20)), _mm256_set1_epi8('a'));
  const __m256i is_number = _mm256_cmpeq_epi8(_mm256_min_epu8(number, _mm256_set1_epi8(9)), number);
  const __m256i is_letter = _mm256_cmpeq_epi8(_mm256_min_epu8(letter, _mm256_set1_epi8(5)), letter);
  is_digit = _mm256_or_si256(is_number, is_letter);
  const __m256i value =
      _mm256_blendv_epi8(_mm256_add_epi8(letter, _mm256_set1_epi8(10)), number, is_number);
  // Each pair of values, the first times 16, as one 16-bit number; then the low halves together.
  const __m256i pairs = _mm256_maddubs_epi16(value, _mm256_set1_epi16(0x0110));
  const __m256i packed = _mm256_permute4x64_epi64(_mm256_packus_epi16(pairs, pairs), 0x08);
  return _mm256_castsi256_si128(packed);
}

// The last 16 bytes may overlap the ones before: they are then stored twice, and counted once by
// this mask, of which the last `count` bytes are set.
[[gnu::target("avx2")]] inline __m128i last_bytes(std::size_t count) {
  alignas(16) static constexpr std::uint8_t edge[2 * vector_bytes] = {
      0,    0,    0,    0,    0,    0,    0,    0,    0,    0,    0,
      0,    0,    0,    0,    0,    0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF,
      0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
  return _mm_loadu_si128(reinterpret_cast<const __m128i*>(edge + count));
}

// count >= vector_bytes
[[gnu::target("avx2")]] bool decode_digits_avx2(const std::uint8_t* digits, std::size_t count,
                                                std::uint8_t* out, std::uint8_t& sum) {
  __m256i good = _mm256_set1_epi8(-1);
  __m128i total = _mm_setzero_si128();
  std::size_t done = 0;
  while (done < count) {
    const std::size_t fresh = count - done < vector_bytes ? count - done : vector_bytes;
    const std::size_t from = done + fresh - vector_bytes;
    __m256i is_digit;
    const __m128i bytes = decode_32(digits + 2 * from, is_digit);
    good = _mm256_and_si256(good, is_digit);
    _mm_storeu_si128(reinterpret_cast<__m128i*>(out + from), bytes);
    total = _mm_add_epi64(
        total, _mm_sad_epu8(_mm_and_si128(bytes, last_bytes(fresh)), _mm_setzero_si128()));
    done += fresh;
  }
  sum = static_cast<std::uint8_t>(_mm_cvtsi128_si32(total) + _mm_extract_epi16(total, 4));
  return _mm256_movemask_epi8(good) == -1;
}

} // namespace

bool decode_digits(const std::uint8_t* digits, std::size_t count, std::uint8_t* out,
                   std::uint8_t& sum) {
  static const bool has_avx2 = __builtin_cpu_supports("avx2") != 0;
  return has_avx2 && count >= vector_bytes ? decode_digits_avx2(digits, count, out, sum)
                                           : decode_digits_in_pairs(digits, count, out, sum);
}
#else
bool decode_digits(const std::uint8_t* digits, std::size_t count, std::uint8_t* out,
                   std::uint8_t& sum) {
  return decode_digits_in_pairs(digits, count, out, sum);
}
#endif

} // namespace cardseal::image
