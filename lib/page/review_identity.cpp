#include <set>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "page/review_parts.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

void put_standing(Fields& page, const ReviewInput& input) {
  if (input.judged == nullptr) {
    return page.show("NOT_JUDGED");
  }
  const Judged& judged = *input.judged;
  Fields& out = page.add(judged.outcome.ok() ? "JUDGED_GOOD" : "JUDGED_REFUSED");
  out.set("LIST", judged.list.sequence);
  out.set("ROOT", judged.root_version);
  if (!judged.outcome.ok()) {
    out.set("NUMBER", static_cast<std::uint64_t>(judged.outcome.fault));
    out.set("SENTENCE", fault_text(judged.outcome.fault).sentence);
    out.set("ADVICE", fault_text(judged.outcome.fault).advice);
  }
}

void put_limits(Fields& row, const format::Signoff& s) {
  if (s.units_a_station.present) {
    row.add("UNITS_A_STATION").set("COUNT", s.units_a_station.value);
  }
  if (s.stations.present) {
    row.add("STATIONS").set("COUNT", s.stations.value);
  }
  if (s.numbers.present) {
    Fields& numbers = row.add("NUMBERS");
    numbers.set("FIRST", s.numbers.value.first);
    numbers.set("LAST", s.numbers.value.last);
  }
  row.show_if(!s.units_a_station.present && !s.stations.present && !s.numbers.present, "NO_LIMITS");
  row.show(format::is_yes(s.plain_file) ? "PLAIN_YES" : "PLAIN_NO");
}

// A sign-off has the person's id; what the person is called stands in the trust list.
void put_name(Fields& row, const format::Signoff& s, const Judged* judged) {
  if (judged == nullptr) {
    return;
  }
  for (const format::Person& person : judged->list.persons.view()) {
    if (person.id == s.person) {
      row.add("NAMED").set("NAME", person.name.view());
    }
  }
}

void put_signoff(Fields& page, const package::SignoffEntry& entry, std::size_t index,
                 const Judged* judged) {
  const format::Signoff& s = entry.signoff;
  Fields& row = page.add("SIGNOFF");
  row.set("AT", index);
  row.set("PLACE", index + 1);
  row.set("ROLE", words_of("role", s.role, format::role_words));
  row.set("PERSON", s.person.view());
  put_name(row, s, judged);
  row.set("MEANING", s.meaning.view());
  row.set("REASON", s.reason.view());
  row.set("TIME", time_words(s.time));
  row.set("KEY", crypto::hex(s.key));
  row.set("DIGEST", crypto::spell_digest(entry.digest));
  row.set("LIST", s.trust_sequence);
  row.set("TOOL", s.tool.view());
  row.set("PRODUCT", s.product.view());
  row.set("EPOCH", s.epoch);
  row.set("SEQUENCE", s.sequence);
  if (s.previous.present) {
    row.add("FOLLOWS").set("DIGEST", crypto::spell_digest(s.previous.value));
  }
  put_limits(row, s);
}

struct Needed {
  format::Role role;
  std::size_t persons;
};

bool is_for_engineering(const package::Package& package) {
  return package.manifest.title.view().starts_with("NOT SHIP");
}

// What every loader asks for at least (lib/trust), and what the trust list adds.
std::vector<Needed> needed_of(const ReviewInput& input) {
  std::vector<Needed> out;
  if (is_for_engineering(input.package)) {
    out.push_back({format::Role::engineering, 1});
  } else {
    out.push_back({format::Role::release, 1});
    out.push_back({format::Role::quality, 1});
  }
  for (Needed& each : out) {
    if (input.judged == nullptr) {
      continue;
    }
    for (const format::Threshold& threshold : input.judged->list.thresholds.view()) {
      if (threshold.role == each.role) {
        each.persons = std::max<std::size_t>(each.persons, threshold.persons);
      }
    }
  }
  return out;
}

void put_needed(Fields& page, const ReviewInput& input) {
  bool all = true;
  for (const Needed& needed : needed_of(input)) {
    std::set<std::string, std::less<>> persons;
    for (const package::SignoffEntry& entry : input.package.signoffs) {
      if (entry.signoff.role == needed.role) {
        persons.emplace(entry.signoff.person.view());
      }
    }
    Fields& row = page.add("NEEDED");
    row.set("ROLE", words_of("role", needed.role, format::role_words));
    row.set("PERSONS", needed.persons);
    row.set("THERE", persons.size());
    const bool enough = persons.size() >= needed.persons;
    row.show(enough ? "ENOUGH" : "MISSING");
    if (!enough) {
      page.add("MISSING_ROLE").set("ROLE", words_of("role", needed.role, format::role_words));
    }
    all = all && enough;
  }
  page.show(all ? "ALL_SIGNED" : "NOT_ALL_SIGNED");
  page.show_if(is_for_engineering(input.package), "FOR_ENGINEERING");
}

} // namespace

void put_device(Fields& page, const format::Manifest& m) {
  page.set("DEVICE", m.device.view());
  page.set("BOARD", m.board.view());
  page.set("BOARD_REVISION", m.board_revision);
  if (m.device_id.present) {
    const format::DeviceId& id = m.device_id.value;
    Fields& out = page.add("DEVICE_ID");
    out.set("ID", crypto::hex({id.value.data(), id.size}));
    out.set("MASK", crypto::hex({id.mask.data(), id.size}));
  } else {
    page.show("NO_DEVICE_ID");
  }
}

void put_identity(Fields& page, const ReviewInput& input) {
  const format::Manifest& m = input.package.manifest;
  const std::string digits = crypto::hex(input.package.manifest_digest);
  page.set("PRODUCT", m.product.view());
  page.set("RELEASE", m.release.view());
  page.set("TITLE", m.title.view());
  page.set("EPOCH", m.epoch);
  page.set("SEQUENCE", m.sequence);
  page.set("PACKAGE", crypto::spell_digest(input.package.manifest_digest));
  page.set("FINGERPRINT", grouped(input.package.manifest_digest));
  page.set("SHORT", digits.substr(0, 4) + " " + digits.substr(4, 4));
  page.set("OWNER", crypto::spell_digest(m.owner));
  page.set("FACTS_DIGEST", crypto::spell_digest(m.facts_digest));
  page.set("FACTS_SIZE", m.facts_size);
  page.set("FACTS_PRODUCT", input.package.facts.product.view());
  page.set("FACTS_RELEASE", input.package.facts.release.view());
  page.set("TOOL", input.package.facts.tool.view());
  if (m.previous.present) {
    page.add("PREVIOUS").set("DIGEST", crypto::spell_digest(m.previous.value));
  } else {
    page.show("NO_PREVIOUS");
  }
  put_device(page, m);
}

void put_signoffs(Fields& page, const ReviewInput& input) {
  put_standing(page, input);
  put_needed(page, input);
  page.show_if(input.package.signoffs.empty(), "NO_SIGNOFFS");
  std::size_t index = 0;
  for (const package::SignoffEntry& entry : input.package.signoffs) {
    put_signoff(page, entry, index++, input.judged);
  }
}

} // namespace cardseal::page
