#include "image/device_sum.h"

#include <numeric>

#include <fmt/format.h>

namespace cardseal::image {
namespace {

// One byte after the other, put together to words.
class WordSum {
public:
  WordSum(unsigned word_bytes, std::uint32_t mask, bool low_first)
      : word_bytes_(word_bytes), mask_(mask), low_first_(low_first) {}

  void update(ByteView bytes) {
    for (const std::uint8_t byte : bytes) {
      const unsigned place = low_first_ ? have_ : word_bytes_ - 1 - have_;
      const std::uint32_t masked = (std::uint32_t{byte} << (8 * place)) & mask_;
      words_ += masked;
      bytes_ += masked >> (8 * place);
      have_ = (have_ + 1) % word_bytes_;
    }
  }
  bool whole() const { return have_ == 0; }
  std::uint32_t words() const { return words_; } // sum of the words
  std::uint32_t bytes() const { return bytes_; } // sum of their bytes

private:
  unsigned word_bytes_;
  std::uint32_t mask_;
  bool low_first_;
  unsigned have_ = 0;
  std::uint32_t words_ = 0;
  std::uint32_t bytes_ = 0;
};

Error refusal(std::string code, std::string what, std::string found, std::string expected) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = std::move(code);
  error.what = std::move(what);
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = "name another range";
  return error;
}

Try<void> check_length(std::uint64_t length) {
  if (length > longest_summed) {
    return Unexpected(refusal("image-range", "more memory than a sum goes over",
                              fmt::format("{} bytes", length),
                              fmt::format("at most {}", longest_summed)));
  }
  return {};
}

Error odd(std::uint64_t length, unsigned word_bytes) {
  return refusal("sum-odd", "memory is no whole number of words", fmt::format("{} bytes", length),
                 fmt::format("a multiple of {}", word_bytes));
}

std::uint64_t length_of(std::span<const BlankRange> ranges) {
  std::uint64_t length = 0;
  for (const BlankRange& range : ranges) {
    length += std::min(range.range.length, longest_summed + 1);
  }
  return length;
}

template <class Take>
void walk_all(const SparseImage& image, std::span<const BlankRange> ranges, Take take) {
  for (const BlankRange& range : ranges) {
    walk_blank(image, range, take);
  }
}

} // namespace

std::optional<SumForm> find_sum(std::string_view name) {
  SumForm form;
  if (name == "byte-sum-16") {
    form.kind = SumKind::byte_sum_16;
  } else if (name == "byte-sum-32") {
    form.kind = SumKind::byte_sum_32;
  } else if (name == "word-sum-16-le") {
    form.kind = SumKind::word_sum_16_le;
  } else if (name == "word-sum-16-be") {
    form.kind = SumKind::word_sum_16_be;
  } else if (parse_crc(name, form.crc)) {
    form.kind = SumKind::crc;
  } else {
    return std::nullopt;
  }
  return form;
}

Try<std::uint32_t> sum_over(const SparseImage& image, const SumForm& form,
                            std::span<const BlankRange> ranges) {
  const std::uint64_t length = length_of(ranges);
  if (Try<void> fits = check_length(length); !fits) {
    return Unexpected(std::move(fits).error());
  }
  if (form.kind == SumKind::crc) {
    TableCrc crc(form.crc);
    walk_all(image, ranges, [&](ByteView bytes) { crc.update(bytes); });
    return crc.value();
  }
  if (form.kind == SumKind::byte_sum_16 || form.kind == SumKind::byte_sum_32) {
    std::uint32_t sum = 0;
    walk_all(image, ranges,
             [&](ByteView bytes) { sum = std::accumulate(bytes.begin(), bytes.end(), sum); });
    return form.kind == SumKind::byte_sum_32 ? sum : sum & 0xFFFFU;
  }
  WordSum sum(2, 0xFFFF, form.kind == SumKind::word_sum_16_le);
  walk_all(image, ranges, [&](ByteView bytes) { sum.update(bytes); });
  if (!sum.whole()) {
    return Unexpected(odd(length, 2));
  }
  return sum.words() & 0xFFFFU;
}

Try<std::uint16_t> device_sum_16(const SparseImage& image, std::span<const MaskedWords> memory) {
  std::uint32_t total = 0;
  std::uint64_t length = 0;
  for (const MaskedWords& words : memory) {
    length += std::min(words.memory.range.length, longest_summed + 1);
    if (Try<void> fits = check_length(length); !fits) {
      return Unexpected(std::move(fits).error());
    }
    WordSum sum(words.memory.word_bytes, words.mask, true);
    walk_blank(image, words.memory, [&](ByteView bytes) { sum.update(bytes); });
    if (!sum.whole()) {
      return Unexpected(odd(words.memory.range.length, words.memory.word_bytes));
    }
    total += words.by_byte ? sum.bytes() : sum.words();
  }
  return static_cast<std::uint16_t>(total);
}

} // namespace cardseal::image
