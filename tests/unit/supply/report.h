#pragma once

#include <utility>

#include "supply/margins.h"
#include "support/catch.h"

namespace cardseal::supply {

// Of inputs that are in range.
inline Report report_of(const Inputs& in) {
  auto report = calculate(in);
  REQUIRE(report);
  return *std::move(report);
}

} // namespace cardseal::supply
