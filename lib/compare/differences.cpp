#include "compare/differences.h"

#include <algorithm>

#include <fmt/format.h>

#include "compare/pairs.h"
#include "crypto/sha256.h"
#include "image/spell.h"

namespace cardseal::compare {
namespace {

constexpr std::size_t ranges_kept = 1000; // of a region

std::string words_of(const Row& row, const Fields& fields, std::size_t at) {
  return fields[at].present ? row.fields[at].spell(fields, at) : "none";
}

FieldChange change_of(const Row& row, const Line* a, const Line* b, std::size_t at) {
  FieldChange out;
  const std::string_view name = row.fields[at].name;
  out.name = name.empty() ? row.key.substr(row.key.find('.') + 1) : name;
  if (a != nullptr && a->fields[at].present) {
    out.a = a->fields[at].text;
    out.number_a = a->fields[at].number;
  }
  if (b != nullptr && b->fields[at].present) {
    out.b = b->fields[at].text;
    out.number_b = b->fields[at].number;
  }
  return out;
}

// The fields of an item that tell a difference: all of one that is on one side only.
std::vector<std::size_t> telling(const Row& row, const Pair& pair) {
  std::vector<std::size_t> out;
  const Line& any = pair.a != nullptr ? *pair.a : *pair.b;
  for (std::size_t i = 0; i < any.fields.size(); ++i) {
    const Use use = row.fields[i].use;
    const bool both = pair.a != nullptr && pair.b != nullptr;
    const bool differs = both && pair.a->fields[i] != pair.b->fields[i];
    const bool alone = !both && any.fields[i].present;
    if (use == Use::shown || (use == Use::compared && (differs || alone))) {
      out.push_back(i);
    }
  }
  return out;
}

std::string joined_words(const Row& row, const Line& line, const std::vector<std::size_t>& fields) {
  std::string out;
  for (const std::size_t at : fields) {
    const std::string_view name = row.fields[at].name;
    out += fmt::format("{}{}{}{}", out.empty() ? "" : ", ", name, name.empty() ? "" : " ",
                       words_of(row, line.fields, at));
  }
  return out.empty() ? "there" : out;
}

std::string named(const Row& row, const Line& line) {
  std::string out(row.what);
  for (std::size_t i = 0; i < line.fields.size(); ++i) {
    if (row.fields[i].use == Use::names) {
      out += " " + words_of(row, line.fields, i);
    }
  }
  return out;
}

// What an item says may be worse than what its kind is: a limit passed that device or board does
// not survive, or a supply that is refused for that.
bool says_damage(const Row& row, const Line* line) {
  if (line == nullptr) {
    return false;
  }
  if (row.key == "facts.margin") {
    return line->fields[3].text == "harms";
  }
  constexpr std::string_view harmful[] = {"supply-above-absolute-max", "supply-above-board",
                                          "supplies-both-on"};
  return row.key == "facts.finding" && line->fields[1].text == "refuse" &&
         std::ranges::find(harmful, line->fields[2].text) != std::end(harmful);
}

class Collector {
public:
  // `text` is the name of both texts' kind.
  void add_text(std::string_view text, const std::vector<Line>& a, const std::vector<Line>& b) {
    for (const std::string& key : keys_of(a, b)) {
      const std::vector<const Line*> in_a = with(a, key);
      const std::vector<const Line*> in_b = with(b, key);
      const Line& any = in_a.empty() ? *in_b.front() : *in_a.front();
      const Row row =
          row_of(key == text ? key : fmt::format("{}.{}", text, key), any.fields.size());
      if (any.item) {
        add_items(row, pairs(in_a, in_b, row));
      } else {
        add_line(row, *in_a.front(), *in_b.front());
      }
    }
  }

  void add_region(const std::string& key, const std::string& name, const image::SparseImage& a,
                  const image::SparseImage& b) {
    image::Comparison bytes = image::compare(a, b, ranges_kept);
    if (bytes.same()) {
      return;
    }
    Difference out;
    out.area = Area::firmware;
    out.key = "firmware." + key;
    out.what = name;
    out.a = region_words(a);
    out.b = region_words(b);
    out.bytes = std::move(bytes);
    out_.push_back(std::move(out));
    unless_.emplace_back();
  }

  Report take() {
    Report report;
    for (std::size_t i = 0; i < out_.size(); ++i) {
      if (unless_[i].empty() || !reported(unless_[i])) {
        report.can_damage += out_[i].risk == Risk::damage ? 1 : 0;
        report.differences.push_back(out_[i]);
      }
    }
    std::ranges::stable_sort(report.differences, [](const Difference& a, const Difference& b) {
      return a.risk != b.risk ? a.risk < b.risk : a.area < b.area;
    });
    return report;
  }

private:
  static std::string region_words(const image::SparseImage& image) {
    return image.empty() ? std::string("nothing")
                         : fmt::format("{}, {}", image::spell_count(image.size(), "byte"),
                                       crypto::spell_digest(image.digest()));
  }

  static std::vector<std::string> keys_of(const std::vector<Line>& a, const std::vector<Line>& b) {
    std::vector<std::string> keys;
    for (const auto* lines : {&a, &b}) {
      for (const Line& line : *lines) {
        if (std::ranges::find(keys, line.key) == keys.end()) {
          keys.push_back(line.key);
        }
      }
    }
    return keys;
  }

  static std::vector<const Line*> with(const std::vector<Line>& lines, const std::string& key) {
    std::vector<const Line*> out;
    for (const Line& line : lines) {
      if (line.key == key) {
        out.push_back(&line);
      }
    }
    return out;
  }

  Difference& start(const Row& row) {
    Difference out;
    out.area = row.area;
    out.risk = row.risk;
    out.key = row.key;
    out.what = row.what;
    out_.push_back(std::move(out));
    unless_.emplace_back(row.unless);
    return out_.back();
  }

  // What stands once: each field is a difference of its own.
  void add_line(const Row& row, const Line& a, const Line& b) {
    for (std::size_t i = 0; i < a.fields.size(); ++i) {
      if (row.fields[i].use == Use::position || a.fields[i] == b.fields[i]) {
        continue;
      }
      Difference& out = start(row);
      if (!row.fields[i].name.empty()) {
        out.what += fmt::format(" {}", row.fields[i].name);
      }
      out.a = words_of(row, a.fields, i);
      out.b = words_of(row, b.fields, i);
      out.fields.push_back(change_of(row, &a, &b, i));
    }
  }

  // What stands in a list: each item is one difference.
  void add_items(const Row& row, const std::vector<Pair>& items) {
    for (const Pair& pair : items) {
      const std::vector<std::size_t> fields = telling(row, pair);
      Difference& out = start(row);
      out.what = named(row, pair.a != nullptr ? *pair.a : *pair.b);
      if (says_damage(row, pair.a) || says_damage(row, pair.b)) {
        out.risk = Risk::damage;
      }
      if (pair.a != nullptr) {
        out.a = joined_words(row, *pair.a, fields);
      }
      if (pair.b != nullptr) {
        out.b = joined_words(row, *pair.b, fields);
      }
      for (const std::size_t at : fields) {
        out.fields.push_back(change_of(row, pair.a, pair.b, at));
      }
    }
  }

  bool reported(std::string_view key) const {
    return std::ranges::any_of(out_, [&](const Difference& other) {
      return key.ends_with('.') ? other.key.starts_with(key) : other.key == key;
    });
  }

  std::vector<Difference> out_;
  std::vector<std::string> unless_; // of each
};

Try<void> add_firmware(Collector& out, const image::SparseImage& a, const image::SparseImage& b,
                       const std::vector<image::NamedRange>& regions) {
  Try<image::Split> in_a = image::split(a, regions);
  Try<image::Split> in_b = image::split(b, regions);
  if (!in_a || !in_b) {
    return Unexpected(!in_a ? std::move(in_a).error() : std::move(in_b).error());
  }
  for (std::size_t i = 0; i < regions.size(); ++i) {
    out.add_region(regions[i].name, regions[i].name, in_a->parts[i], in_b->parts[i]);
  }
  const bool whole = regions.empty();
  out.add_region(whole ? "all" : "rest", whole ? "all bytes" : "in no region", in_a->leftover,
                 in_b->leftover);
  return {};
}

// All fields of a sign-off as one item, so that one person's is one difference.
std::vector<Line> signoff_lines(const package::Package& package) {
  std::vector<Line> out;
  for (const package::SignoffEntry& entry : package.signoffs) {
    Line all{std::string(format::Signoff::kind), {}, true};
    for (const Line& line : lines_of(entry.signoff)) {
      all.fields.insert(all.fields.end(), line.fields.begin(), line.fields.end());
    }
    out.push_back(std::move(all));
  }
  return out;
}

} // namespace

Try<Report> compare(const Side& a, const Side& b, const std::vector<image::NamedRange>& regions) {
  Collector all;
  if (Try<void> added = add_firmware(all, a.image, b.image, regions); !added) {
    return Unexpected(std::move(added).error());
  }
  all.add_text(format::Manifest::kind, lines_of(a.package.manifest), lines_of(b.package.manifest));
  all.add_text(format::Facts::kind, lines_of(a.package.facts), lines_of(b.package.facts));
  const bool signed_both = a.sealed && b.sealed;
  if (signed_both) {
    all.add_text(format::Signoff::kind, signoff_lines(a.package), signoff_lines(b.package));
  }
  Report report = all.take();
  report.signoffs_compared = signed_both;
  return report;
}

std::string closing_sentence(const Report& report) {
  if (report.differences.empty()) {
    return "no difference";
  }
  std::string out = image::spell_count(report.differences.size(), "difference");
  if (report.can_damage != 0) {
    out += fmt::format(", {} of them can damage boards", report.can_damage);
  }
  return out;
}

} // namespace cardseal::compare
