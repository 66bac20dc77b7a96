// Every limit that lib/format/SPEC.md states, at its border and one beyond.
#include <map>

#include "support/fill.h"
#include "support/sealed_examples.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

using Words = std::vector<std::string>;

Words split(std::string text, const std::string& between) {
  Words out;
  for (std::size_t at = 0; (at = text.find(between)) != std::string::npos;) {
    out.push_back(text.substr(0, at));
    text.erase(0, at + between.size());
  }
  out.push_back(text);
  return out;
}

// Key and fields of one line; a space within quotes does not separate.
Words tokens_of(const std::string& line) {
  Words out{""};
  bool quoted = false;
  for (const char c : line) {
    quoted = quoted != (c == '"');
    if (c == ' ' && !quoted) {
      out.emplace_back();
    } else if (c != '\n') {
      out.back() += c;
    }
  }
  return out;
}

std::string line_from(const Words& tokens) {
  std::string out;
  for (const std::string& token : tokens) {
    out += (out.empty() ? "" : " ") + token;
  }
  return out + "\n";
}

// A field of the example, with what the tables say about it.
struct Probe {
  Words lines;      // of the whole example
  std::size_t line; // from 0
  Words tokens;     // of the line; 0 is the key
  std::size_t at;   // token of the field
  Words types;      // of the line's fields, without brackets
  bool is_count;

  const std::string& type() const { return types[at - 1]; }
  std::string with(std::initializer_list<std::pair<std::size_t, std::string>> changes) const {
    Words changed_tokens = tokens;
    for (const auto& [index, text] : changes) {
      changed_tokens[index] = text;
    }
    Words all = lines;
    all[line] = line_from(changed_tokens);
    return joined(all);
  }
};

// One for each token behind the key; `-` stands for all fields of its group.
Words types_of(const std::string& cell, const Words& tokens) {
  Words out;
  Words fields = split(plain(cell), ", ");
  std::size_t next = 0;
  for (std::size_t at = 1; at < tokens.size(); ++at) {
    std::string type = fields.at(next++);
    for (bool open = type.front() == '[' && tokens[at] == "-"; open && type.back() != ']';) {
      type = fields.at(next++);
    }
    std::erase(type, '[');
    std::erase(type, ']');
    out.push_back(type);
  }
  return out;
}

// Calls `f(Probe)` for every field that the example of T holds (not for one spelled `-`).
template <class T, class F>
void for_each_field(F f) {
  const Table table = spec().tables("## Kind `" + std::string(T::kind) + "`").at(0);
  const Words lines = lines_of(example_of<T>());
  std::size_t line = 1;
  for (std::size_t row = 0; row < table.size(); ++row) {
    const bool is_count =
        row + 1 < table.size() && table[row + 1][2] != "1" && table[row][2] == "1";
    for (; line < lines.size() && tokens_of(lines[line])[0] == plain(table[row][0]); ++line) {
      const Words tokens = tokens_of(lines[line]);
      const Words types = types_of(table[row][1], tokens);
      for (std::size_t at = 1; at < tokens.size(); ++at) {
        if (tokens[at] != "-") {
          f(Probe{lines, line, tokens, at, types, is_count});
        }
      }
      if (table[row][2] == "1") {
        ++line;
        break;
      }
    }
  }
  CHECK(line == lines.size());
}

template <class T>
void check_fault(const Probe& probe, const std::string& text, Fault fault) {
  CAPTURE(T::kind, probe.line + 1, probe.type(), text);
  const Outcome outcome = decoded<T>(text);
  CHECK(outcome.fault == fault);
  CHECK(outcome.position == probe.line + 1);
}

// The field itself is taken; other lines may no longer fit it.
template <class T>
void check_taken(const Probe& probe, const std::string& text) {
  CAPTURE(T::kind, probe.line + 1, probe.type(), text);
  const Outcome outcome = decoded<T>(text);
  const bool of_field = outcome.fault == Fault::text_range || outcome.fault == Fault::text_count;
  CHECK_FALSE((of_field && outcome.position == probe.line + 1));
}

std::uint64_t number(const std::string& text) {
  return std::stoull(text);
}

template <class T>
void check_uint(const Probe& probe) {
  const Words bounds = split(probe.type().substr(5), "..");
  const std::uint64_t low =
      bounds[0] == "prev" ? number(probe.tokens[probe.at - 1]) : number(bounds[0]);
  const std::uint64_t high = number(bounds[1]);
  check_taken<T>(probe, probe.with({{probe.at, std::to_string(low)}}));
  std::string highest = probe.with({{probe.at, bounds[1]}});
  if (probe.at < probe.types.size() && probe.types[probe.at].rfind("uint prev", 0) == 0) {
    const bool two =
        probe.at + 1 < probe.types.size() && probe.types[probe.at + 1].rfind("uint prev", 0) == 0;
    highest =
        two ? probe.with(
                  {{probe.at, bounds[1]}, {probe.at + 1, bounds[1]}, {probe.at + 2, bounds[1]}})
            : probe.with({{probe.at, bounds[1]}, {probe.at + 1, bounds[1]}});
  }
  check_taken<T>(probe, highest);
  if (low > 0) {
    check_fault<T>(probe, probe.with({{probe.at, std::to_string(low - 1)}}), Fault::text_range);
  }
  const std::string above = std::to_string(high + 1);
  check_fault<T>(probe, probe.with({{probe.at, above}}),
                 above.size() > 19 ? Fault::text_form
                 : probe.is_count  ? Fault::text_count
                                   : Fault::text_range);
}

template <class T>
void check_length(const Probe& probe, std::size_t longest, const std::string& quote, Fault above) {
  const auto spelled = [&](std::size_t size) {
    return probe.with({{probe.at, quote + std::string(size, 'z') + quote}});
  };
  check_taken<T>(probe, spelled(longest));
  check_taken<T>(probe, spelled(1));
  check_fault<T>(probe, spelled(longest + 1), above);
}

template <class T>
void check_field(const Probe& probe) {
  const Words type = split(probe.type(), " ");
  if (type[0] == "uint") {
    check_uint<T>(probe);
  } else if (type[0] == "id") {
    const std::size_t longest = number(type[1]);
    check_length<T>(probe, longest, "", longest == 32 ? Fault::text_form : Fault::text_range);
  } else if (type[0] == "quoted") {
    check_length<T>(probe, number(type[1]), "\"", Fault::text_range);
  } else if (type[0] == "word") {
    for (const std::string& word : split(type[1], "/")) {
      check_taken<T>(probe, probe.with({{probe.at, word}}));
      check_fault<T>(probe, probe.with({{probe.at, word + "x"}}), Fault::text_range);
    }
  } else { // hex, digest, utc: one width
    check_fault<T>(probe, probe.with({{probe.at, probe.tokens[probe.at] + "0"}}), Fault::text_form);
    const std::string shorter = probe.tokens[probe.at].substr(0, probe.tokens[probe.at].size() - 1);
    check_fault<T>(probe, probe.with({{probe.at, shorter}}), Fault::text_form);
  }
}

// What rules between lines ask for and a filler can't know.
void fit(format::Manifest& manifest) {
  manifest.supply_source = format::SupplySource::station;
  manifest.verify_limits.value.low_mv = 59'999;      // below the high one
  for (format::Part& part : manifest.parts.view()) { // exactly one number
    const bool number = part.index == 1;
    part.kind = number ? format::PartKind::number : format::PartKind::literal;
    part.literal.present = !number;
    part.base.present = part.width.present = number;
    part.base.value = manifest.alphabet.value.size;
    part.check.present = false;
  }
  manifest.alphabet.value.set("zyxwvutsrqponmlkjihgfedcbaZYXWVUTSRQ"); // no character twice
  for (std::uint16_t i = 0; i < manifest.excluded.count; ++i) {        // a number between each two
    const std::uint64_t first = format::max_serial_number - 100 + 10 * i;
    manifest.excluded.items[i] = {first, first + 1};
  }
  manifest.serial_crc.value.model.set("32/04c11db7/ffffffff/n/ffffff00");
  for (format::Placement& placement : manifest.placements.view()) {
    placement.parts.present = !format::is_binary(placement.encoding);
  }
}
void fit(format::Allotment& allotment) { // an ordinal between each two
  allotment.numbers = format::Numbers::kept;
  for (std::uint16_t i = 0; i < allotment.spans.count; ++i) {
    const std::uint64_t first = format::max_ordinal - 100 + 2 * i;
    allotment.spans.items[i] = {first, first};
  }
  allotment.first = allotment.spans.items[0].first;
  allotment.count = allotment.spans.count;
}
void fit(format::Withdrawal& withdrawal) {
  withdrawal.key.present = withdrawal.allotment.present = false;
}
template <class T>
void fit(T&) {}

} // namespace

TEST_CASE("every field is taken up to its stated border and refused one beyond",
          "[check-106][check-107][check-108]") {
  std::size_t fields = 0;
  for_each_kind([&](auto kind) {
    using T = typename decltype(kind)::type;
    for_each_field<T>([&](const Probe& probe) {
      check_field<T>(probe);
      ++fields;
    });
  });
  CHECK(fields > 200);
}

TEST_CASE("a text with every list full and every field at its longest fits its kind") {
  for_each_kind([](auto kind) {
    using T = typename decltype(kind)::type;
    T value{};
    Filler filler;
    visit(filler, value);
    fit(value);
    const std::string text = encoded(value);
    INFO(T::kind);
    CHECK_FALSE(text.empty());
    CHECK(taken_as<T>(text) == Taken::canonical);
    std::map<std::string, std::size_t> seen;
    for (const std::string& line : lines_of(text)) {
      ++seen[tokens_of(line)[0]];
    }
    const Table table = spec().tables("## Kind `" + std::string(T::kind) + "`").at(0);
    for (const TableRow& row : table) {
      CAPTURE(row[0]);
      const Words bounds = split(split(row[2], " ")[0], "..");
      CHECK(seen[plain(row[0])] >= number(bounds.back()));
    }
  });
}
