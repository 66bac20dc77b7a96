// A package and what one or more trust lists make of it, as JSON, schema 1.
#pragma once

#include <string>
#include <vector>

#include "package/explain.h"

namespace cardseal::view {

struct ListVerdict {
  std::string of; // "its day", "today"; empty when there is only one
  std::uint32_t sequence = 0;
  format::Digest list{};
  std::uint32_t root_version = 0;
  Outcome outcome;
  std::vector<package::Reason> reasons; // when they were asked for
};

// `verdict` is the first that is not good, else good.
std::string json_of(const package::Package& package, const std::vector<ListVerdict>& verdicts);

} // namespace cardseal::view
