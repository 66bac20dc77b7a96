// Collisions and proof sheets: what arithmetic says, against going through every unit.
#include <map>
#include <random>
#include <set>

#include "serial/collide.h"
#include "serial/proof.h"
#include "serial/week.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::serial;

namespace {

struct Made { // owns what a view looks at
  format::Scheme scheme;
  format::Maybe<format::Alphabet> alphabet;
  format::Maybe<format::SerialCrc> crc;
  std::vector<format::ExcludedRange> excluded;
  std::vector<format::Part> parts;
  format::Allotment allotment;
  unit::Serials serials() const { return {scheme, alphabet, crc, excluded, parts, &allotment}; }

  void add(format::Part part) {
    part.index = static_cast<std::uint8_t>(parts.size() + 1);
    parts.push_back(part);
  }
  void literal(const std::string& text) {
    format::Part part;
    part.literal.set({});
    part.literal.value.set(text);
    add(part);
  }
  void number(std::uint8_t base, std::uint8_t width) {
    format::Part part;
    part.kind = format::PartKind::number;
    part.base.set(base);
    part.width.set(width);
    add(part);
  }
  void check(format::CheckKind kind, std::uint8_t from) {
    format::Part part;
    part.kind = format::PartKind::check;
    part.check.set({kind, from});
    add(part);
  }
};

std::uint64_t below(std::mt19937& random, std::uint64_t end) {
  return random() % end;
}

Made random_scheme(std::mt19937& random) {
  Made made;
  made.scheme.first = below(random, 40);
  made.scheme.step = 1 + below(random, 12);
  made.scheme.capacity = 1 + below(random, 30);
  for (std::uint64_t at = below(random, 60); at < 200 && made.excluded.size() < 3;) {
    const std::uint64_t last = at + below(random, 25);
    made.excluded.push_back({at, last});
    at = last + 2 + below(random, 40);
  }
  const std::uint64_t form = below(random, 6);
  if (form == 1) {
    made.literal("F");
  } else if (form == 2) {
    made.literal(below(random, 2) == 0 ? "1" : "2");
  }
  made.number(form == 3 ? 16 : 10, 3);
  if (form == 4) {
    made.check(below(random, 2) == 0 ? format::CheckKind::luhn : format::CheckKind::damm, 1);
  } else if (form == 5) {
    made.literal("1");
  }
  return made;
}

struct All { // every number and text of a range, with the ordinal
  std::map<std::uint64_t, std::uint64_t> numbers;
  std::set<std::string> texts;
  bool spelled = true;
};

All all_of(const UnitRange& range) {
  All out;
  for (std::uint64_t n = range.first; n <= range.last; ++n) {
    std::uint64_t number = 0;
    unit::UnitText text;
    REQUIRE(unit::number_of(range.serials, n, number).ok());
    out.spelled = out.spelled && unit::text_of(range.serials, n, text).ok();
    out.numbers[number] = n;
    out.texts.insert(std::string(text.view()));
  }
  return out;
}

UnitRange random_range(std::mt19937& random, const Made& made) {
  const std::uint64_t first = below(random, made.scheme.capacity);
  return {made.serials(), first, first + below(random, made.scheme.capacity - first)};
}

std::string text_of(const UnitRange& range, std::uint64_t ordinal) {
  unit::UnitText text;
  REQUIRE(unit::text_of(range.serials, ordinal, text).ok());
  return std::string(text.view());
}

} // namespace

TEST_CASE("two ranges share a number or a text exactly when going through both finds one") {
  std::mt19937 random(5);
  std::map<TextAnswer, std::size_t> answers;
  std::size_t shared = 0;
  for (int round = 0; round < 6000; ++round) {
    const Made one = random_scheme(random);
    const Made other = random_scheme(random);
    const UnitRange a = random_range(random, one);
    const UnitRange b = random_range(random, other);
    const All all_a = all_of(a);
    const All all_b = all_of(b);
    CAPTURE(round);
    std::optional<std::uint64_t> lowest;
    for (const auto& [number, ordinal] : all_a.numbers) {
      if (!lowest && all_b.numbers.contains(number)) {
        lowest = number;
      }
    }
    const std::optional<Meeting> meeting = common_number(a, b);
    REQUIRE(meeting.has_value() == lowest.has_value());
    if (meeting) {
      REQUIRE(meeting->number == *lowest);
      REQUIRE(meeting->a == all_a.numbers.at(*lowest));
      REQUIRE(meeting->b == all_b.numbers.at(*lowest));
      ++shared;
    }
    if (!all_a.spelled || !all_b.spelled) {
      continue; // numbers past their digits: no such scheme is sealed
    }
    bool same = false;
    for (const std::string& text : all_a.texts) {
      same = same || all_b.texts.contains(text);
    }
    const TextCollision found = common_text(a, b);
    ++answers[found.answer];
    REQUIRE_FALSE((found.answer == TextAnswer::never && same));
    if (found.answer == TextAnswer::can) {
      REQUIRE(same);
      REQUIRE(text_of(a, found.meeting->a) == text_of(b, found.meeting->b));
    }
  }
  CHECK(shared > 300); // each answer was met often enough to mean something
  CHECK(answers[TextAnswer::never] > 500);
  CHECK(answers[TextAnswer::can] > 40);
  CHECK(answers[TextAnswer::not_excluded] > 100);
}

TEST_CASE("far numbers and large steps meet without going through them") {
  Made a;
  a.scheme = {{}, 9'000'000'000'000'000'000ULL, 999'983, 1'000'000'000'000};
  Made b;
  b.scheme = {{}, 9'000'000'000'000'000'001ULL, 999'979, 1'000'000'000'000};
  a.number(10, 19);
  b.number(10, 19);
  const auto found =
      common_number({a.serials(), 0, 999'999'999'999}, {b.serials(), 0, 999'999'999'999});
  REQUIRE(found); // primes: they meet once in 999,983 x 999,979 numbers
  CHECK((found->number - a.scheme.first) % 999'983 == 0);
  CHECK((found->number - b.scheme.first) % 999'979 == 0);
  CHECK(found->number - a.scheme.first < 999'983ULL * 999'979);
  a.scheme.step = 10;
  b.scheme.step = 20;
  CHECK_FALSE(common_number({a.serials(), 0, 999'999'999'999}, {b.serials(), 0, 999'999'999'999}));
}

TEST_CASE("a proof sheet has both sides of every edge within the range, rising") {
  Made made;
  made.scheme = {{}, 1, 1, 999'000};
  made.excluded = {{500, 599}};
  made.number(10, 6);
  std::map<std::uint64_t, std::string> why;
  std::uint64_t before = 0;
  for (const ProofUnit& each : proof_units(made.serials(), 0, 998'999)) {
    CHECK((why.empty() || each.ordinal > before));
    before = each.ordinal;
    std::uint64_t number = 0;
    REQUIRE(unit::number_of(made.serials(), each.ordinal, number).ok());
    why[number] = each.why;
  }
  for (const std::uint64_t edge :
       {10ULL, 100ULL, 1000ULL, 10'000ULL, 100'000ULL, 256ULL, 65'536ULL}) {
    CAPTURE(edge);
    CHECK(why.contains(edge - 1));
    CHECK(why.contains(edge));
  }
  CHECK(why.at(499) == "before the numbers left out from 500");
  CHECK(why.at(600) == "after the numbers left out from 500");
  CHECK(why.at(1) == "first");
  CHECK(why.at(999'100) == "last");
  CHECK(why.size() >= 20);
  CHECK(why.at(9) == "before digit 2 counts");
  const auto few = proof_units(made.serials(), 7, 7);
  REQUIRE(few.size() == 1);
  CHECK(few[0].ordinal == 7);
}

// Every carry is looked at also where the numbers begin above the powers of their base.
TEST_CASE("a proof sheet has a carry into each digit and byte, wherever the range begins") {
  Made made;
  made.scheme = {{}, 1'000'000, 1, 900'000};
  made.number(10, 7);
  std::map<std::uint64_t, std::string> why;
  for (const ProofUnit& each : proof_units(made.serials(), 0, 899'999)) {
    why[1'000'000 + each.ordinal] = each.why;
  }
  for (const std::uint64_t edge : {1'000'010ULL, 1'000'100ULL, 1'001'000ULL, 1'010'000ULL,
                                   1'100'000ULL, 0x0F4300ULL, 0x100000ULL}) {
    CAPTURE(edge);
    CHECK(why.contains(edge - 1));
    CHECK(why.contains(edge));
  }
  CHECK_THAT(why.at(1'099'999), ContainsSubstring("before a carry into digit 6"));
  CHECK(why.at(0x0F4300) == "after a carry into byte 2");
  CHECK(why.at(0x100000) == "after a carry into byte 3");
  Made letters;
  letters.scheme = {{}, 5, 1, 40};
  letters.number(16, 4);
  why.clear();
  for (const ProofUnit& each : proof_units(letters.serials(), 0, 39)) {
    why[5 + each.ordinal] = each.why;
  }
  CHECK_THAT(why.at(9), ContainsSubstring("before the eleventh digit of the alphabet"));
  CHECK(why.at(15) == "before digit 2 counts");
}

// GNU date's %G and %V (coreutils) for these days; the rule is ISO 8601's, first week with a
// Thursday.
TEST_CASE("a week at New Year belongs to the year of its Thursday") {
  struct Day {
    std::uint32_t year, month, day;
    const char* code;
  };
  const Day days[] = {{2026, 12, 31, "2653"}, {2027, 1, 1, "2653"},   {2027, 1, 3, "2653"},
                      {2027, 1, 4, "2701"},   {2024, 12, 29, "2452"}, {2024, 12, 30, "2501"},
                      {2025, 1, 1, "2501"},   {2021, 1, 3, "2053"},   {2021, 1, 4, "2101"},
                      {2008, 12, 28, "0852"}, {2008, 12, 29, "0901"}, {2000, 2, 29, "0009"}};
  for (const Day& each : days) {
    CAPTURE(each.year, each.month, each.day);
    const std::optional<Week> week = week_of(each.year, each.month, each.day);
    REQUIRE(week);
    CHECK(date_code_of(*week) == each.code);
  }
  CHECK_FALSE(week_of(2027, 2, 29));
  CHECK_FALSE(week_of(2027, 13, 1));
  CHECK_FALSE(week_of(2027, 1, 0));
  CHECK_FALSE(week_of(0, 1, 1));
}
