// How numbers, times and digests look on a page. Inside this module.
#pragma once

#include <string>

#include "base/number.h"
#include "format/facts.h"

namespace cardseal::page {

std::string address(std::uint64_t value); // "0x08000000"
std::string time_words(const Utc& time);  // "2026-03-02T10:00:00Z"
// 64 hex digits in groups of four, to be compared by eye and ear.
std::string grouped(const format::Digest& digest);
// "3162.5 mV": the sealed millionths in the unit that people read; from 1,000 ms on, seconds.
std::string quantity(std::uint64_t value, format::MarginUnit unit);
// Rounded to what people plan by: "632.738 ms", "26.6 s", "9 min 40 s", "1 h 26 min".
std::string duration(std::uint64_t microseconds);
std::string hex_digits(std::uint64_t value, int digits); // "00FF"

} // namespace cardseal::page
