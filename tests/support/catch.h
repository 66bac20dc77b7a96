// The one place that knows the difference between Catch2 2.13 (Debian 12) and 3 (Debian 13).
#pragma once

#ifdef CARDSEAL_CATCH_3
#include <catch2/catch_all.hpp>
using Catch::Matchers::ContainsSubstring;
#else
#include <catch2/catch.hpp>
inline auto ContainsSubstring(const std::string& text) {
  return Catch::Matchers::Contains(text);
}
#endif
