// Published vector files that are not kept in this tree: a test reads them where they are found and
// says "skipped" where they are not.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <optional>
#include <string>

namespace cardseal::test {

// `name` below the folder that CARDSEAL_SHARED names, else below `shared` beside the source folder.
inline std::optional<std::filesystem::path> shared_case(const std::string& name) {
  const char* const named = std::getenv("CARDSEAL_SHARED");
  const std::filesystem::path folder =
      named != nullptr ? std::filesystem::path(named)
                       : std::filesystem::path(CARDSEAL_SOURCE_DIR).parent_path() / "shared";
  if (std::filesystem::exists(folder / name)) {
    return folder / name;
  }
  std::cout << "skipped: no " << name << "\n";
  return std::nullopt;
}

} // namespace cardseal::test
