// What a template is filled with: texts by name, and sections by name, each with rows of its own.
// A section that has no row is left out of the page. Inside this module.
#pragma once

#include <cstdint>
#include <list>
#include <map>
#include <string>
#include <string_view>

namespace cardseal::page {

class Fields {
public:
  void set(std::string_view name, std::string_view value) { values_[std::string(name)] = value; }
  void set(std::string_view name, std::uint64_t value) { set(name, std::to_string(value)); }
  // One more row of a section.
  Fields& add(std::string_view section) { return sections_[std::string(section)].emplace_back(); }
  void show(std::string_view section) { (void)add(section); }
  void show_if(bool yes, std::string_view section) {
    if (yes) {
      show(section);
    }
  }

  const std::map<std::string, std::string>& values() const { return values_; }
  const std::map<std::string, std::list<Fields>>& sections() const { return sections_; }

private:
  std::map<std::string, std::string> values_;
  std::map<std::string, std::list<Fields>> sections_;
};

} // namespace cardseal::page
