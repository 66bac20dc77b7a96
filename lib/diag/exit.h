// Exit codes, one table for every command. 64 to 78 are the numbers of BSD's sysexits.h.
#pragma once

#include "diag/error.h"

namespace cardseal {

inline constexpr int exit_done = 0;
inline constexpr int exit_no = 1; // it ran, and the answer is no

constexpr int exit_code(ErrorKind kind) {
  switch (kind) {
  case ErrorKind::refused:
    return exit_no;
  case ErrorKind::usage:
    return 64;
  case ErrorKind::bad_data:
    return 65;
  case ErrorKind::no_input:
    return 66;
  case ErrorKind::internal:
    return 70;
  case ErrorKind::no_create:
    return 73;
  case ErrorKind::io:
    return 74;
  case ErrorKind::permission:
    return 77;
  case ErrorKind::config:
    return 78;
  }
  return 70;
}

} // namespace cardseal
