// What the code says a sealed text looks like: a visitor that runs the one description of a kind,
// as reader and writer do, and lists keys, fields and ranges in the words of lib/format/SPEC.md.
//
// The description is run twice, every number at its lowest and at its highest. A bound or width
// that differs between the two depends on a field before it.
#pragma once

#include <string>
#include <vector>

#include "format/line.h"
#include "format/reader.h"

namespace cardseal::test {

struct LineRow {
  std::string key;
  std::string fields; // "uint 1..16, [digest]"
  std::string lines;  // "1", or "1..16 by first"
  friend bool operator==(const LineRow&, const LineRow&) = default;
};

struct Description {
  std::vector<LineRow> lines;
  std::vector<std::string> rule_keys; // after which a rule between lines is checked, each once
};

class Describer {
public:
  struct Field {
    std::string before; // what stands before the numbers, with an opened bracket
    std::string after;  // closed brackets
    std::uint64_t low = 0;
    std::uint64_t high = 0;
    enum class Shape { plain, range, width } shape = Shape::plain;
  };
  struct Line {
    std::string key;
    std::vector<Field> fields;
    std::string lines = "1";
  };

  explicit Describer(bool highest) : highest_(highest) {}

  bool ok() const { return true; }
  void begin(std::string_view key) { lines_.push_back({std::string(key), {}, "1"}); }
  void end() {}
  void begin_list() {}
  void end_item(format::Order order) {
    lines_.back().lines = times_ + (order == format::Order::first_field ? " by first" : " by all");
  }
  void reference(bool) {
    if (rule_keys_.empty() || rule_keys_.back() != lines_.back().key) {
      rule_keys_.push_back(lines_.back().key);
    }
  }

  template <class T>
  void uint(T& value, std::uint64_t low, std::uint64_t high) {
    add("uint ", Field::Shape::range, low, high);
    value = static_cast<T>(highest_ ? high : low);
  }
  void count(std::uint16_t& value, std::uint16_t low, std::uint16_t high) {
    add("uint ", Field::Shape::range, low, high);
    times_ = std::to_string(low) + ".." + std::to_string(high);
    value = 1;
  }
  template <class T>
  void hex(T&, std::size_t digits) {
    add("hex ", Field::Shape::width, digits, digits);
  }
  void bytes(ByteSpan value) {
    add("hex ", Field::Shape::width, 2 * value.size(), 2 * value.size());
  }
  void digest(format::Digest&) { add("digest"); }
  void utc(Utc&) { add("utc"); }
  template <std::size_t N>
  void id(format::Text<N>&) {
    add("id " + std::to_string(N));
  }
  template <std::size_t N>
  void quoted(format::Text<N>&, format::Charset charset) {
    add("quoted " + std::to_string(N) +
        (charset == format::Charset::display ? " display" : " people"));
  }
  template <class E, std::size_t N>
  void word(E&, const std::array<std::string_view, N>& words) {
    std::string text = "word ";
    for (const std::string_view each : words) {
      text += (text.back() == ' ' ? "" : "/") + std::string(each);
    }
    add(text);
  }
  template <class F>
  void optional(bool& present, F fields) {
    present = true;
    opened_ = true;
    fields();
    lines_.back().fields.back().after += "]";
  }

  const std::vector<Line>& lines() const { return lines_; }
  const std::vector<std::string>& rule_keys() const { return rule_keys_; }

private:
  void add(const std::string& text, Field::Shape shape = Field::Shape::plain, std::uint64_t low = 0,
           std::uint64_t high = 0) {
    lines_.back().fields.push_back({(opened_ ? "[" : "") + text, "", low, high, shape});
    opened_ = false;
  }

  bool highest_;
  bool opened_ = false;
  std::string times_;
  std::vector<Line> lines_;
  std::vector<std::string> rule_keys_;
};

inline std::string spell_field(const Describer::Field& least, const Describer::Field& most) {
  std::string numbers;
  if (least.shape == Describer::Field::Shape::range) {
    numbers = (least.low == most.low ? std::to_string(least.low) : "prev") + ".." +
              std::to_string(least.high);
  } else if (least.shape == Describer::Field::Shape::width) {
    numbers =
        std::to_string(least.low) + (least.low == most.low ? "" : ".." + std::to_string(most.low));
  }
  return least.before + numbers + least.after;
}

template <class T>
Description describe() {
  Describer least(false);
  Describer most(true);
  T at_least{};
  T at_most{};
  visit(least, at_least);
  visit(most, at_most);
  Description out;
  out.rule_keys = least.rule_keys();
  for (std::size_t i = 0; i < least.lines().size(); ++i) {
    const Describer::Line& line = least.lines()[i];
    std::string fields;
    for (std::size_t j = 0; j < line.fields.size(); ++j) {
      fields += (j == 0 ? "" : ", ") + spell_field(line.fields[j], most.lines().at(i).fields.at(j));
    }
    out.lines.push_back({line.key, fields, line.lines});
  }
  return out;
}

} // namespace cardseal::test
