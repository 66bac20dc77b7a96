// A verify at a low and a high supply: what is sealed of it, and what is refused. The worked
// figures follow from the profiles of packages/01-frost-node by the rules of lib/supply/margins.h.
#include <algorithm>

#include "job/rules.h"
#include "releases.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

const std::string at_two_path = "packages/01-frost-node/release.xml";

// The frost node at row-six alone, verified at two supplies.
job::ReleaseFile at_two(std::uint16_t low_mv, std::uint16_t high_mv) {
  job::ReleaseFile release = taken_file(at_two_path, job::read_release);
  release.stations.resize(1);
  release.settings.verify = format::Verify::low_high;
  release.supply.verify = format::VerifyLimits{low_mv, high_mv};
  return release;
}

job::CompiledRelease sealed_of(const job::ReleaseFile& release) {
  return compiled(release, source_path(at_two_path).parent_path());
}

std::string told(const Rule& rule, const job::CompiledRelease& release) {
  return found_by(rule, release.findings, source_path(at_two_path).parent_path());
}

std::vector<std::string> step_names(const format::Facts& facts) {
  std::vector<std::string> out;
  for (const format::WorkStep& step : facts.work_steps.view()) {
    out.emplace_back(step.name.view());
  }
  return out;
}

} // namespace

TEST_CASE(
    "both supplies are sealed, judged in phases of their own, and stand in the order of work") {
  const job::CompiledRelease release = sealed_of(at_two(3200, 3500));
  CHECK_FALSE(release.findings.refused());
  CHECK(release.manifest.verify == format::Verify::low_high);
  REQUIRE(release.manifest.verify_limits.present);
  CHECK(release.manifest.verify_limits.value.low_mv == 3200);
  CHECK(release.manifest.verify_limits.value.high_mv == 3500);
  const auto& margins = release.facts.margins;
  // program, erase, verify-low and verify-high with six each, one fall, three of all phases
  CHECK(margins.count == 38);
  const auto margin = [&](std::string_view name, format::SupplyPhase phase) {
    return *std::find_if(margins.items.begin(), margins.items.end(),
                         [&](const auto& m) { return m.id.view() == name && m.phase == phase; });
  };
  CHECK(margin("board-entry-min", format::SupplyPhase::verify_low).value.value.distance < 150'000);
  CHECK(margin("board-entry-max", format::SupplyPhase::verify_high).value.value.distance ==
        50'000); // 3600 - 3500 - 50 mV
  CHECK(step_names(release.facts) == std::vector<std::string>{"foreign voltage check", "supply on",
                                                              "device ID", "erase", "blank check",
                                                              "program", "verify at 3.200 V",
                                                              "verify at 3.500 V", "supply off"});
}

TEST_CASE("what is written after a verify at two supplies is written at the job's own") {
  job::ReleaseFile release = at_two(3200, 3500);
  release.settings.lock = format::Lock::reversible;
  const std::vector<std::string> work = step_names(sealed_of(release).facts);
  const auto high = std::find(work.begin(), work.end(), "verify at 3.500 V");
  REQUIRE(work.end() - high > 2);
  CHECK(high[1] == "supply back at 3.300 V");
  CHECK(high[2] == "lock");
}

TEST_CASE("a cycle with a verify at two supplies reads twice and waits for both") {
  job::ReleaseFile once = at_two(3200, 3500);
  once.settings.verify = format::Verify::nominal;
  once.supply.verify.reset();
  const auto board_us = [](const job::ReleaseFile& release) {
    return sealed_of(release).facts.cycles.items[0].board_us;
  };
  // row-six: 828 bytes at 40000 bytes a second, then 200 ms, 20 ms and 200 ms for its supply; the
  // slowest board takes 5 % more
  CHECK(board_us(at_two(3200, 3500)) - board_us(once) == (20'700 + 420'000) * 105 / 100);
}

TEST_CASE("a supply to verify at that a station can't make is refused, each by itself") {
  CHECK(told(job::rules::off_step, sealed_of(at_two(3250, 3450))) ==
        "release.xml:17: low verify supply of 3250 mV is no step of row-six, which gives 1800 to "
        "5400 mV by 100 mV (nearest are 3200 and 3300 mV)\n"
        "release.xml:17: high verify supply of 3450 mV is no step of row-six, which gives 1800 to "
        "5400 mV by 100 mV (nearest are 3400 and 3500 mV)\n");
  CHECK(told(job::rules::outside_station, sealed_of(at_two(1700, 5500))) ==
        "release.xml:17: low verify supply of 1700 mV is outside the 1800 to 5400 mV that row-six "
        "gives (state another supply, or leave this station out)\n"
        "release.xml:17: high verify supply of 5500 mV is outside the 1800 to 5400 mV that row-six "
        "gives (state another supply, or leave this station out)\n");
}

TEST_CASE("a supply to verify at that board or device can't take is refused with its own phase") {
  CHECK(
      told(job::rules::above_board, sealed_of(at_two(3200, 3600))) ==
      "release.xml:17: verify-high: supply of 3600 mV of row-six can be 3650 mV at "
      "frost-node-board, above its 3600 mV (state a supply inside 3000 to 3600 mV, or correct the "
      "board's profile)\n");
  CHECK_THAT(told(job::rules::below_board, sealed_of(at_two(3000, 3500))),
             ContainsSubstring("release.xml:17: verify-low: supply of 3000 mV of row-six can be "));
  CHECK_THAT(
      told(job::rules::outside_operating, sealed_of(at_two(3200, 5500))),
      ContainsSubstring("verify-high: supply of 5500 mV of row-six can be 5550 mV at "
                        "atmega328p, above its 5500 mV (state a verify supply further inside "
                        "1800 to 5500 mV"));
}

TEST_CASE("a verify above what the device must read right at is refused, as below it") {
  const std::string folder = "tests/rules/verify-beyond-device/passes";
  job::ReleaseFile release = taken_file(folder + "/release.xml", job::read_release);
  release.supply.verify->high_mv = 3600;
  CHECK_THAT(found_by(job::rules::verify_beyond, compiled(release, source_path(folder)).findings,
                      source_path(folder)),
             ContainsSubstring("release.xml:13: verify at 3600 mV can be 3650 mV at invented-mcu, "
                               "above the 3550 mV at which it must read right"));
}
