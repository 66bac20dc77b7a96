#include "profile/entries.h"

#include <algorithm>

namespace cardseal::profile {

void read_entries(const xml::Element& element, std::vector<std::string>& entries,
                  std::optional<Source>& source) {
  source = read_source(element);
  for (const xml::Element& one : element.many("entry", 1, 8)) {
    std::string id = one.id("id", 16);
    if (one.sound() && std::find(entries.begin(), entries.end(), id) != entries.end()) {
      one.refuse("id", "an entry is named twice", id, "each entry once", "delete one of the two");
    }
    entries.push_back(std::move(id));
  }
}

} // namespace cardseal::profile
