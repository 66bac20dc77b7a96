// Whole files in and out of tests; a file that can't be read or written ends the test.
#pragma once

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>

#include "support/catch.h"

namespace cardseal::test {

inline std::string text_of_file(const std::filesystem::path& path) {
  INFO(path.string());
  std::ifstream file(path, std::ios::binary);
  REQUIRE(file.good());
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

inline void put_file(const std::filesystem::path& path, std::string_view text) {
  INFO(path.string());
  std::ofstream file(path, std::ios::binary);
  file << text;
  REQUIRE(file.flush().good());
}

} // namespace cardseal::test
