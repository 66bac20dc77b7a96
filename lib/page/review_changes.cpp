#include <algorithm>
#include <vector>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "crypto/sha256.h"
#include "page/review_parts.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

constexpr std::size_t ranges_listed = 8; // of changed firmware

void put_value(Fields& row, std::string_view section, const std::optional<std::string>& value) {
  Fields& cell = row.add(section);
  if (value) {
    cell.add("THERE").set("TEXT", *value);
  } else {
    cell.show("ABSENT");
  }
}

void put_bytes(Fields& row, const image::Comparison& bytes) {
  Fields& out = row.add("BYTES");
  out.set("CHANGED", bytes.different_bytes);
  out.set("REMOVED", bytes.only_in_a);
  out.set("ADDED", bytes.only_in_b);
  out.set("RANGES", bytes.range_count);
  const std::size_t listed = std::min(bytes.ranges.size(), ranges_listed);
  for (const image::DifferentRange& each : std::span(bytes.ranges).first(listed)) {
    Fields& range = out.add("RANGE");
    range.set("FROM", address(each.range.address));
    range.set("TO", address(each.range.end() - 1));
    range.set("COUNT", each.range.length);
  }
  if (bytes.range_count > listed) {
    out.add("MORE").set("COUNT", bytes.range_count - listed);
  }
}

// How many ids end the name of an item, and the words of each.
struct Named {
  std::string_view key;
  std::string_view what; // in words.txt
  std::vector<std::string_view> groups;
};

const Named* named(std::string_view key) {
  static const Named all[] = {{"facts.margin", "margin", {"margin", "phase"}},
                              {"facts.supply-input", "given", {"id", "phase", "model"}},
                              {"facts.supply-formula", "formula", {"id", "model"}},
                              {"facts.cycle-input", "given", {"id", "model"}},
                              {"facts.cycle-formula", "formula", {"id", "model"}},
                              {"facts.finding", "finding", {"rule"}}};
  const auto* const found =
      std::find_if(std::begin(all), std::end(all), [&](const Named& n) { return n.key == key; });
  return found == std::end(all) ? nullptr : found;
}

// Without the ids that the calculation has inside: "margin board-entry-max erase" is "margin:
// board, at most, while erasing".
std::string what_words(const compare::Difference& one) {
  const Named* const name = named(one.key);
  if (name == nullptr) {
    return one.what;
  }
  std::string_view rest = one.what;
  std::vector<std::string> ids(name->groups.size());
  for (std::size_t i = ids.size(); i-- != 0;) {
    const std::size_t blank = rest.rfind(' ');
    if (blank == std::string_view::npos) {
      return one.what;
    }
    ids[i] = words_of(name->groups[i], rest.substr(blank + 1));
    rest = rest.substr(0, blank);
  }
  return fmt::format("{}: {}", words_of("what", name->what), fmt::join(ids, ", "));
}

// What somebody changed, and what the calculation made of it.
bool follows(const compare::Difference& one) {
  return one.risk == compare::Risk::other && one.area == compare::Area::calculation;
}

void put_difference(Fields& group, const compare::Difference& one) {
  Fields& row = group.add("DIFFERENCE");
  row.set("WHAT", what_words(one));
  if (!follows(one)) {
    Fields& area = row.add("IN_AREA");
    area.set("AREA", compare::area_words[static_cast<std::size_t>(one.area)]);
    area.show_if(one.risk == compare::Risk::damage, "DAMAGE");
  }
  put_value(row, "BEFORE", one.a);
  put_value(row, "NOW", one.b);
  if (one.bytes) {
    put_bytes(row, *one.bytes);
  }
}

// What is about the release itself: a package is signed after it was sealed, each by its own.
std::vector<const compare::Difference*> of_release(const compare::Report& report) {
  std::vector<const compare::Difference*> out;
  for (const compare::Difference& one : report.differences) {
    if (one.area != compare::Area::signoffs) {
      out.push_back(&one);
    }
  }
  return out;
}

// What can destroy a board first, then everything else, then what follows from it by calculation,
// which is most of the rows and the least of the news; within each as `compare` sorted it.
void put_differences(Fields& out, const std::vector<const compare::Difference*>& differences,
                     std::size_t can_damage) {
  out.set("COUNT", differences.size());
  out.set("CAN_DAMAGE", can_damage);
  Fields changed;
  Fields calculated;
  for (const compare::Risk risk : {compare::Risk::damage, compare::Risk::other}) {
    for (const compare::Difference* one : differences) {
      if (one->risk == risk) {
        put_difference(follows(*one) ? calculated : changed, *one);
      }
    }
  }
  if (!changed.sections().empty()) {
    out.add("CHANGED_TABLE") = std::move(changed);
  }
  if (!calculated.sections().empty()) {
    out.add("CALCULATED_TABLE") = std::move(calculated);
  }
}

void put_before(Fields& out, const Before& before) {
  const package::Package& package = before.package;
  out.set("BEFORE_NAME",
          fmt::format("{} {}", package.manifest.product.view(), package.manifest.release.view()));
  out.set("BEFORE_DIGEST", crypto::spell_digest(package.manifest_digest));
  for (const package::SignoffEntry& entry : package.signoffs) {
    Fields& by = out.add("BEFORE_BY");
    by.set("PERSON", entry.signoff.person.view());
    by.set("ROLE", words_of("role", entry.signoff.role, format::role_words));
    by.set("TIME", time_words(entry.signoff.time));
  }
  out.show_if(package.signoffs.empty(), "BEFORE_BY_NOBODY");
  if (!before.judged) {
    out.show("BEFORE_NOT_JUDGED");
  } else if (before.judged->ok()) {
    out.show("BEFORE_GOOD");
  } else {
    Fields& refused = out.add("BEFORE_REFUSED");
    refused.set("NUMBER", static_cast<std::uint64_t>(before.judged->fault));
    refused.set("SENTENCE", fault_text(before.judged->fault).sentence);
  }
  const std::vector<const compare::Difference*> differences = of_release(before.changes);
  if (differences.empty()) {
    out.show("SAME");
  } else {
    put_differences(out.add("TABLE"), differences, before.changes.can_damage);
  }
}

} // namespace

void put_changes(Fields& page, const ReviewInput& input) {
  const format::Maybe<format::Digest>& previous = input.package.manifest.previous;
  if (input.before != nullptr) {
    put_before(page.add("COMPARED"), *input.before);
  } else if (previous.present) {
    page.add("NOT_AT_HAND").set("PREVIOUS", crypto::spell_digest(previous.value));
  } else {
    page.show("NAMES_NONE");
  }
}

} // namespace cardseal::page
