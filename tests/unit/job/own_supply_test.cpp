// A board that supplies itself is judged by what its profile says it makes, not by the release's
// word: packages/02-tank-gauge with single changes. Limits: tx32's profile, 1800 to 3600 mV for
// programming, 4000 mV survived; the board's, 3200 to 3400 mV.
#include <algorithm>

#include "job/rules.h"
#include "releases.h"
#include "support/text_file.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

struct Gauge {
  Gauge() {
    std::filesystem::copy(source_path("packages/02-tank-gauge"), folder / "p",
                          std::filesystem::copy_options::recursive);
  }
  void change(const char* file, std::string_view from, std::string_view to) const {
    const io::Path path = folder / "p" / file;
    put_file(path, with(text_of_file(path), from, to));
  }
  job::CompiledRelease compile() const {
    const std::string text = text_of_file(folder / "p" / "release.xml");
    return compiled(taken(text, job::read_release), folder / "p");
  }
  std::uint64_t count(const Rule& rule) const { return compile().findings.count(rule); }
  TempFolder folder;
};

constexpr const char* gauge_board = "profiles/tank-gauge-board.xml";

} // namespace

TEST_CASE("a board's own supply is judged at the lowest and the highest that it makes") {
  const Gauge gauge;
  CHECK_FALSE(gauge.compile().findings.refused());
  SECTION("what is stated lies outside of it") {
    gauge.change("release.xml", "millivolts=\"3300\"", "millivolts=\"3600\"");
    CHECK(gauge.count(job::rules::above_board) == 1);
    gauge.change("release.xml", "millivolts=\"3600\"", "millivolts=\"3100\"");
    CHECK(gauge.count(job::rules::below_board) == 1);
  }
  SECTION("it makes more than the device survives") {
    gauge.change(gauge_board, "max-millivolts=\"3400\"", "max-millivolts=\"4001\"");
    CHECK(gauge.count(job::rules::absolute_max) == 1);
  }
  SECTION("its regulator makes more than the device survives") {
    gauge.change(gauge_board, "entry=\"at-device\" min-millivolts=\"3200\" max-millivolts=\"3400\"",
                 "entry=\"before-regulator\" min-millivolts=\"9000\" max-millivolts=\"30000\" "
                 "output-min-millivolts=\"3200\" output-max-millivolts=\"5500\" "
                 "dropout-millivolts=\"300\"");
    CHECK(gauge.count(job::rules::absolute_max) == 1);
  }
  SECTION("it makes less than the device needs for programming") {
    gauge.change(gauge_board, "min-millivolts=\"3200\"", "min-millivolts=\"1750\"");
    CHECK(gauge.count(job::rules::outside_programming) == 2); // programmed, erased
  }
  SECTION("it makes less than the device works at") {
    gauge.change(gauge_board, "min-millivolts=\"3200\"", "min-millivolts=\"1700\"");
    CHECK(gauge.count(job::rules::outside_operating) == 1);
  }
}

TEST_CASE("a gauge is saved, erased, restored and locked behind the verify, in that order") {
  const Gauge gauge;
  const job::CompiledRelease out = gauge.compile();
  std::vector<std::string> names;
  for (const format::WorkStep& step : out.facts.work_steps.view()) {
    names.emplace_back(step.name.view());
  }
  const auto place_of = [&](const char* name) {
    const auto found = std::find(names.begin(), names.end(), name);
    INFO(name);
    REQUIRE(found != names.end());
    return found - names.begin();
  };
  CHECK(place_of("board's supply on") < place_of("device ID"));
  CHECK(place_of("device ID") < place_of("save kept words"));
  CHECK(place_of("save kept words") < place_of("erase"));
  CHECK(place_of("erase") < place_of("restore kept words"));
  CHECK(place_of("restore kept words") < place_of("program"));
  CHECK(place_of("program") < place_of("verify"));
  CHECK(place_of("verify") < place_of("lock"));
  CHECK(place_of("lock") < place_of("check of the lock"));
}
