// What a fuzz target says of every input: a claim that does not hold ends the run with the input.
#pragma once

#include <cstdio>
#include <cstdlib>

namespace cardseal::fuzz {

inline void claim(bool holds, const char* what) {
  if (!holds) {
    std::fprintf(stderr, "does not hold: %s\n", what);
    std::abort();
  }
}

} // namespace cardseal::fuzz
