// Lines of a record file, written. Inside this module.
#pragma once

#include <cstdint>
#include <utility>
#include <vector>

#include "base/bytes.h"
#include "image/hex_digits.h"
#include "image/intel_hex.h"

namespace cardseal::image {

class RecordOut {
public:
  RecordOut(LineEnd line_end, std::uint64_t expected_size) : line_end_(line_end) {
    out_.reserve(expected_size);
  }

  void begin(char mark) {
    out_.push_back(static_cast<std::uint8_t>(mark));
    sum_ = 0;
  }
  void character(char value) { out_.push_back(static_cast<std::uint8_t>(value)); }
  void byte(std::uint8_t value) {
    out_.push_back(static_cast<std::uint8_t>(upper_case[value >> 4]));
    out_.push_back(static_cast<std::uint8_t>(upper_case[value & 15U]));
    sum_ = static_cast<std::uint8_t>(sum_ + value);
  }
  void bytes(ByteView values) {
    for (const std::uint8_t each : values) {
      byte(each);
    }
  }
  std::uint8_t sum() const { return sum_; } // of the record's bytes so far, modulo 256
  void end(std::uint8_t checksum) {
    byte(checksum);
    if (line_end_ == LineEnd::crlf) {
      out_.push_back('\r');
    }
    out_.push_back('\n');
  }

  std::vector<std::uint8_t> take() { return std::move(out_); }

private:
  LineEnd line_end_;
  std::uint8_t sum_ = 0;
  std::vector<std::uint8_t> out_;
};

} // namespace cardseal::image
