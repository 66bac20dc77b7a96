// A sealed text as its value; a test that gives a bad one fails with the line.
#pragma once

#include "format/codec.h"
#include "support/catch.h"

namespace cardseal::test {

template <class T>
T decoded_value(const std::string& text) {
  T value{};
  const Outcome outcome = format::decode(bytes_of(text), value);
  INFO(text << "fault " << static_cast<int>(outcome.fault) << " in line " << outcome.position);
  REQUIRE(outcome.ok());
  return value;
}

} // namespace cardseal::test
