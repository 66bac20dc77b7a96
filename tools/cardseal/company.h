// The company file: what a desk's commands need each day (templates/company/company.xml explains
// it). Codes: those of `xml`, role-twice.
#pragma once

#include <array>
#include <string>

#include "diag/error.h"
#include "io/system.h"
#include "xml/document.h"

namespace cardseal::tool {

enum class KeyUse : std::uint8_t { root, release, quality, allot, withdraw, engineering };
inline constexpr std::array<std::string_view, 6> key_use_words{"root",  "release",  "quality",
                                                               "allot", "withdraw", "engineering"};

struct Company {
  std::string file;
  std::string root; // paths as seen from the working folder; empty: not named
  std::string trust;
  std::string registered;
  std::string archive; // a folder
  std::array<std::string, key_use_words.size()> keys;

  const std::string& key(KeyUse use) const { return keys[static_cast<std::size_t>(use)]; }
};

xml::All<Company> read_company(io::System& system, const io::Path& file);

} // namespace cardseal::tool
