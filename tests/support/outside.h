// Tools of the system that judge in tests. One that is missing makes a test say "skipped"; under
// CI, where CI=true, it fails the test.
#pragma once

#include <cstdio>
#include <cstdlib>
#include <string>

#include "support/catch.h"

namespace cardseal::test {

struct Ran {
  int exit_code = -1;
  std::string output; // stdout and stderr
};

inline Ran run(const std::string& command) {
  Ran ran;
  // The commands are our own, and a shell is what a reader of the test would use.
  std::FILE* pipe = popen( // NOLINT(cert-env33-c)
      ("( " + command + " ) 2>&1").c_str(), "r");
  REQUIRE(pipe != nullptr);
  char buffer[4096];
  std::size_t got = 0;
  while ((got = std::fread(buffer, 1, sizeof buffer, pipe)) != 0) {
    ran.output.append(buffer, got);
  }
  const int status = pclose(pipe);
  ran.exit_code = status >= 0 ? (status >> 8) & 0xFF : -1;
  return ran;
}

inline bool under_ci() {
  const char* ci = std::getenv("CI");
  return ci != nullptr && std::string(ci) == "true";
}

// True when `tool` can be run; else the test goes on without it, or fails under CI.
inline bool have(const std::string& tool) {
  if (run("command -v " + tool).exit_code == 0) {
    return true;
  }
  WARN("skipped: " << tool << " is not installed");
  CHECK_FALSE(under_ci());
  return false;
}

// A path within quotes for the shell; paths of the source tree hold no quote.
inline std::string shell(const std::string& path) {
  return "'" + path + "'";
}

} // namespace cardseal::test
