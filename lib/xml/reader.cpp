// What an element may hold, and what it holds beyond that.
#include <tinyxml2.h>

#include <algorithm>

#include "xml/element.h"
#include "xml/join.h"

namespace cardseal::xml {

namespace {

std::string listed(const std::vector<std::string>& names, const char* none) {
  std::string out;
  for (const std::string& name : names) {
    out += joined({out.empty() ? "" : ", ", name});
  }
  return out.empty() ? none : out;
}

std::uint32_t line(int number) {
  return static_cast<std::uint32_t>(number);
}

bool is_one_of(std::string_view name, std::initializer_list<std::string_view> names) {
  return std::find(names.begin(), names.end(), name) != names.end();
}

std::vector<std::string> flat(const std::vector<std::vector<std::string>>& groups) {
  std::vector<std::string> out;
  for (const auto& group : groups) {
    out.insert(out.end(), group.begin(), group.end());
  }
  return out;
}

Error error_at(const std::string& file, std::uint32_t line, std::string code, std::string what,
               std::string found, std::string expected, std::string hint) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = std::move(code);
  error.what = std::move(what);
  error.place = {file, line, 0, {}};
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = std::move(hint);
  return error;
}

} // namespace

Element Reader::root(std::string_view name) {
  const tinyxml2::XMLElement* node = document_.root();
  if (node->Name() != name) {
    errors_.push_back(error_at(document_.file(), line(node->GetLineNum()), "xml-root",
                               "the file is of another kind", tag(node->Name()), tag(name),
                               joined({"name a file that holds ", tag(name)})));
    return {this, nullptr};
  }
  asked_[node];
  return {this, node};
}

std::vector<Element> Element::children(std::initializer_list<std::string_view> names) const {
  std::vector<Element> out;
  if (node_ == nullptr) {
    return out;
  }
  reader_->asked_[node_].children.emplace_back(names.begin(), names.end());
  const tinyxml2::XMLElement* child = node_->FirstChildElement();
  for (; child != nullptr; child = child->NextSiblingElement()) {
    if (is_one_of(child->Name(), names)) {
      out.push_back({reader_, child});
    }
  }
  return out;
}

Element Element::one_of(std::initializer_list<std::string_view> names) const {
  const std::vector<Element> found = children(names);
  if (found.empty() && node_ != nullptr) {
    std::string wanted;
    for (const std::string_view one : names) {
      wanted += joined({wanted.empty() ? "" : " or ", tag(one)});
    }
    add("xml-missing-element", place(), joined({tag(name()), " lacks an element"}), "none",
        joined({"one ", wanted}), "add it; templates/author shows where it stands");
  }
  for (std::size_t i = 1; i < found.size(); ++i) {
    add("xml-repeated-element", found[i].place(), "an element stands once too often",
        tag(found[i].name()), joined({"one only, as in line ", std::to_string(found[0].line())}),
        "delete one of the two");
  }
  if (found.empty()) {
    return {reader_, nullptr};
  }
  reader_->asked_[found[0].node_];
  return found[0];
}

Element Element::one(std::string_view child) const {
  return one_of({child});
}

Element Element::maybe(std::string_view child) const {
  if (node_ == nullptr || node_->FirstChildElement(std::string(child).c_str()) == nullptr) {
    children({child});
    return {reader_, nullptr};
  }
  return one_of({child});
}

std::vector<Element> Element::any_of(std::initializer_list<std::string_view> names, std::size_t min,
                                     std::size_t max) const {
  std::vector<Element> found = children(names);
  if (node_ != nullptr && (found.size() < min || found.size() > max)) {
    std::string wanted;
    for (const std::string_view one : names) {
      wanted += joined({wanted.empty() ? "" : " and ", tag(one)});
    }
    const std::string least = std::to_string(min);
    add(found.size() < min ? "xml-missing-element" : "xml-repeated-element", place(),
        joined({tag(name()), " holds a wrong number of ", wanted}), std::to_string(found.size()),
        min == max ? least : joined({least, " to ", std::to_string(max)}),
        found.size() < min ? "add what is missing" : "delete what is too much");
  }
  for (const Element& one : found) {
    reader_->asked_[one.node_];
  }
  return found;
}

std::vector<Element> Element::many(std::string_view child, std::size_t min, std::size_t max) const {
  return any_of({child}, min, max);
}

void Reader::check_attributes(const tinyxml2::XMLElement* node, const Asked& asked) {
  const tinyxml2::XMLAttribute* attribute = node->FirstAttribute();
  for (; attribute != nullptr; attribute = attribute->Next()) {
    const auto& known = asked.attributes;
    if (std::find(known.begin(), known.end(), attribute->Name()) == known.end()) {
      errors_.push_back(
          error_at(document_.file(), line(attribute->GetLineNum()), "xml-unknown-attribute",
                   joined({tag(node->Name()), " has no such attribute"}), attribute->Name(),
                   listed(known, "no attributes"), "correct its spelling, or delete it"));
    }
  }
}

void Reader::check_children(const tinyxml2::XMLElement* node, const Asked& asked) {
  std::size_t reached = 0; // index of the group that the last child belonged to
  const tinyxml2::XMLElement* child = node->FirstChildElement();
  for (; child != nullptr; child = child->NextSiblingElement()) {
    const auto group = std::find_if(
        asked.children.begin(), asked.children.end(), [&](const std::vector<std::string>& names) {
          return std::find(names.begin(), names.end(), child->Name()) != names.end();
        });
    const std::string allowed = listed(flat(asked.children), "no elements");
    if (group == asked.children.end()) {
      errors_.push_back(error_at(document_.file(), line(child->GetLineNum()), "xml-unknown-element",
                                 joined({tag(node->Name()), " holds no such element"}),
                                 tag(child->Name()), allowed,
                                 "correct its spelling, or delete it"));
      continue;
    }
    const auto index = static_cast<std::size_t>(group - asked.children.begin());
    if (index < reached) {
      errors_.push_back(error_at(document_.file(), line(child->GetLineNum()), "xml-order",
                                 joined({"an element of ", tag(node->Name()), " stands too late"}),
                                 tag(child->Name()), joined({"the order ", allowed}),
                                 "move it to its place"));
    }
    reached = std::max(reached, index);
    check(child);
  }
}

void Reader::check(const tinyxml2::XMLElement* node) {
  const auto asked = asked_.find(node);
  if (asked == asked_.end()) {
    return; // an element too many, reported where it was counted
  }
  check_attributes(node, asked->second);
  check_children(node, asked->second);
}

Errors Reader::finish() {
  check(document_.root());
  std::stable_sort(errors_.begin(), errors_.end(),
                   [](const Error& a, const Error& b) { return a.place.line < b.place.line; });
  return std::move(errors_);
}

} // namespace cardseal::xml
