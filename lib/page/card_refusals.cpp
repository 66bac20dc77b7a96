#include <algorithm>
#include <vector>

#include <fmt/format.h>

#include "base/fault.h"
#include "page/card_parts.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

struct Group {
  std::string what;
  std::vector<const FaultText*> faults; // ascending
};

// "ask quality" is "ask-quality"; what follows a comma or semicolon explains and is no name.
std::string key_of(std::string_view advice) {
  std::string key(advice.substr(0, advice.find_first_of(",;")));
  for (char& c : key) {
    c = c == ' ' ? '-' : c;
  }
  return key;
}

// The table of reasons speaks to whoever reads it at the desk; the floor's words, where they
// differ, stand in words.txt.
std::string floor_words(std::string_view advice) {
  const std::string key = key_of(advice);
  std::string found = words_of("floor", key);
  return found == key ? std::string(advice) : found;
}

std::vector<Group> groups() {
  std::vector<Group> out;
  for (const FaultText& fault : all_faults()) {
    const std::string what = floor_words(fault.advice);
    auto found = std::find_if(out.begin(), out.end(),
                              [&](const Group& group) { return group.what == what; });
    if (found == out.end()) {
      found = out.insert(out.end(), Group{what, {}});
    }
    found->faults.push_back(&fault);
  }
  return out;
}

// "101 to 111, 201": a run ends where the table has another group's number between.
std::string runs_of(const std::vector<const FaultText*>& faults) {
  std::string out;
  std::size_t at = 0;
  while (at < faults.size()) {
    std::size_t end = at;
    while (end + 1 < faults.size() && faults[end + 1] == faults[end] + 1) {
      ++end;
    }
    const auto first = static_cast<unsigned>(faults[at]->fault);
    const auto last = static_cast<unsigned>(faults[end]->fault);
    out += (out.empty() ? "" : ", ") +
           (first == last ? std::to_string(first) : fmt::format("{}\u2013{}", first, last));
    at = end + 1;
  }
  return out;
}

} // namespace

void put_refusals(Fields& page) {
  constexpr std::size_t named = 2; // so few that their words have room too
  for (const Group& group : groups()) {
    Fields& row = page.add("REFUSAL");
    row.set("WHAT_TO_DO", group.what);
    row.set("NUMBERS", runs_of(group.faults));
    if (group.faults.size() <= named) {
      for (const FaultText* fault : group.faults) {
        row.add("SHOWN").set("DISPLAY", fault->display);
      }
    }
  }
}

} // namespace cardseal::page
