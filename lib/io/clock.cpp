#include "io/clock.h"

#include <cerrno>
#include <ctime>

#include <sys/random.h>

#include "io/system.h"

namespace cardseal::io {

Utc now() {
  const std::time_t seconds = std::time(nullptr);
  std::tm parts{};
  ::gmtime_r(&seconds, &parts);
  Utc out;
  out.year = static_cast<std::uint16_t>(parts.tm_year + 1900);
  out.month = static_cast<std::uint8_t>(parts.tm_mon + 1);
  out.day = static_cast<std::uint8_t>(parts.tm_mday);
  out.hour = static_cast<std::uint8_t>(parts.tm_hour);
  out.minute = static_cast<std::uint8_t>(parts.tm_min);
  out.second = static_cast<std::uint8_t>(parts.tm_sec < 60 ? parts.tm_sec : 59);
  return out;
}

Try<void> fill_random(ByteSpan out) {
  while (!out.empty()) {
    const ssize_t got = ::getrandom(out.data(), out.size(), 0);
    if (got < 0 && errno == EINTR) {
      continue;
    }
    if (got <= 0) {
      return Unexpected(error_from(Errno{errno}, "kernel random generator", "read"));
    }
    out = out.subspan(static_cast<std::size_t>(got));
  }
  return {};
}

} // namespace cardseal::io
