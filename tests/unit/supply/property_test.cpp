#include <algorithm>
#include <limits>
#include <string_view>
#include <vector>

#include "circuit.h"
#include "formula.h"
#include "knobs.h"
#include "report.h"
#include "supply/copper.h"
#include "supply/margins.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::supply;

namespace {

// Wide enough that every part of the circuit matters, and small enough that no low voltage is cut
// off at zero, where more of anything changes nothing.
Case random_case(Dice& dice, EntryKind entry) {
  Case one;
  one.awg = static_cast<int>(dice.whole(20, 34));
  Inputs& in = one.in;
  in.station.tolerance_mv = dice.whole(1, 100);
  in.station.tolerance_ppm = dice.whole(0, 30'000);
  in.station.slots_on = dice.whole(2, 16);
  in.station.slot_limit_ua = dice.whole(300'000, 600'000);
  in.station.all_limit_ua = dice.whole(610'000, 9'600'000);
  in.station.shared_return_uohm = dice.whole(1, 20'000);
  in.station.settle_us = dice.whole(0, 100'000);
  in.station.wait_us = dice.whole(0, 10'000'000);
  in.station.bleed_ohm = dice.whole(50, 2'000);
  in.station.removal_mv = dice.whole(1, 500);
  in.cable = {dice.whole(10, 1'000), find_gauge(static_cast<std::uint32_t>(one.awg))->uohm_per_m,
              static_cast<std::int32_t>(dice.whole(0, 100)) - 10};
  in.contacts = {dice.whole(1, 3), dice.whole(1, 3), dice.whole(0, 30'000), 0};
  in.contacts.worn_uohm = in.contacts.new_uohm + dice.whole(1, 200'000);
  in.board.entry = entry;
  in.board.entry_min_mv = dice.whole(1'500, 3'000);
  in.board.entry_max_mv = dice.whole(3'000, 6'000);
  in.board.drop_least_mv = entry == EntryKind::before_diode ? dice.whole(1, 300) : 0;
  in.board.drop_most_mv = entry == EntryKind::at_device ? 0 : dice.whole(300, 700);
  in.board.output_least_mv = dice.whole(1'800, 3'000);
  in.board.output_most_mv = in.board.output_least_mv + dice.whole(0, 300);
  in.board.start_ua = dice.whole(0, 35'000); // less than the smallest share of a limit
  in.board.capacitance_nf = dice.whole(5'000'000, 50'000'000);
  if (dice.whole(0, 1) == 0) {
    in.board.bleed_ohm = dice.whole(2'000, 20'000);
  }
  in.signals.follows_supply = dice.whole(0, 1) == 0;
  in.signals.set_mv = dice.whole(2'000, 5'000);
  in.signals.tolerance_mv = dice.whole(1, 200);
  in.board.signal_min_mv = dice.whole(1'000, 3'000);
  in.board.signal_max_mv = dice.whole(3'000, 6'000);
  in.board.signal_over_mv = dice.whole(0, 1'000);
  in.device = {.operating_min_mv = 1'800,
               .operating_max_mv = 5'500,
               .program_min_mv = 2'700,
               .program_max_mv = 5'500,
               .erase_min_mv = 2'500,
               .erase_max_mv = 5'250,
               .absolute_max_mv = 6'000};
  for (const Phase phase :
       {Phase::program, Phase::erase, Phase::verify, Phase::verify_low, Phase::verify_high}) {
    const std::uint32_t set_mv = phase == Phase::verify_low    ? 2'800
                                 : phase == Phase::verify_high ? 5'250
                                                               : 4'500;
    // While a supply rises a board draws less than the smallest share of a limit.
    const std::uint32_t most_ua = phase == Phase::verify_high ? 35'000 : 300'000;
    in.phases.push_back({phase, set_mv, dice.whole(10'000, most_ua)});
  }
  return one;
}

constexpr EntryKind all_entries[] = {EntryKind::at_device, EntryKind::before_diode,
                                     EntryKind::before_regulator};

double volts(const Report& report, std::string_view id, Phase phase) {
  return static_cast<double>(*find(report.sheet, id, phase)->value) * 1e-6;
}

double seconds(const Report& report, std::string_view id) {
  return volts(report, id, Phase::all); // both are millionths
}

constexpr double nothing = 1e-9; // what floating point may be off: a thousandth of a unit

bool discharges(const Inputs& in) {
  return in.board.entry != EntryKind::before_diode || in.board.bleed_ohm;
}

// How many of the module's bounds one sampled case is outside of.
int passed_bounds(const Report& report, const Sampled& sampled, const Case& one, Phase phase) {
  const auto outside = [&](double value, std::string_view low, std::string_view high) {
    return (value < volts(report, low, phase) - nothing ? 1 : 0) +
           (value > volts(report, high, phase) + nothing ? 1 : 0);
  };
  int passed = outside(sampled.entry, "entry-low-uv", "station-high-uv") +
               outside(sampled.device, "device-low-uv", "device-high-uv");
  passed += sampled.all_current > volts(report, "all-ua", phase) + nothing ? 1 : 0;
  const bool in_time =
      sampled.charge_time >= 0 && sampled.charge_time <= seconds(report, "charge-us") + nothing;
  passed += in_time ? 0 : 1;
  if (discharges(one.in)) {
    passed += sampled.left_after_removal > one.in.station.removal_mv * 1e-3 + nothing ? 1 : 0;
    passed += sampled.left_after_fall > volts(report, "station-low-uv", Phase::verify_low) + nothing
                  ? 1
                  : 0;
  }
  const double rise = volts(report, "charge-verify-high-us", Phase::verify_high);
  passed += sampled.rise_time >= 0 && sampled.rise_time <= rise + nothing ? 0 : 1;
  passed += sampled.signal > volts(report, "signal-high-uv", Phase::all) + nothing ? 1 : 0;
  passed +=
      sampled.signal - sampled.device > volts(report, "line-over-uv", phase) + nothing ? 1 : 0;
  passed += !one.in.signals.follows_supply &&
                    sampled.signal < volts(report, "signal-low-uv", Phase::all) - nothing
                ? 1
                : 0;
  return passed;
}

double wait_of(const Report& report, std::string_view id, Phase phase) {
  const Quantity* time = find(report.sheet, id, phase);
  return time->value ? static_cast<double>(*time->value) * 1e-6 : 0;
}

Waits waits_of(const Report& report) {
  return {wait_of(report, "discharge-removal-us", Phase::all),
          wait_of(report, "discharge-verify-low-us", Phase::verify_low)};
}

std::int64_t given_of(const Inputs& in, std::string_view id) {
  for (const Given& given : givens(in)) {
    if (given.id == id) {
      return given.value;
    }
  }
  FAIL("no given " << id);
  return 0;
}

bool has(const std::vector<std::string_view>& ids, std::string_view id) {
  return std::find(ids.begin(), ids.end(), id) != ids.end();
}

std::int64_t as_number(const std::optional<std::int64_t>& margin) {
  return margin ? *margin : std::numeric_limits<std::int64_t>::min(); // never is worst
}

struct Changes {
  int improved = 0; // margins that got better
  int strayed = 0;  // margins that changed although the given does not enter them
  int unmoved = 0;  // margins that the given enters and that stayed
  int worsened = 0;
};

Changes compare(const Report& before, const Report& after, std::string_view id) {
  Changes changes;
  REQUIRE(before.margins.size() == after.margins.size());
  for (std::size_t at = 0; at < before.margins.size(); ++at) {
    const std::int64_t was = as_number(before.margins[at].margin);
    const std::int64_t is = as_number(after.margins[at].margin);
    const bool enters = has(givens_of(before.sheet, before.margins[at].formula), id);
    changes.improved += is > was ? 1 : 0;
    // What a line stands above is the less or the more of two things: one of them may not matter.
    const bool may_rest = before.margins[at].id == "signal-over-device";
    changes.worsened += is < was ? 1 : 0;
    changes.strayed += !enters && is != was ? 1 : 0;
    changes.unmoved += enters && is == was && !may_rest ? 1 : 0;
    changes.improved += as_number(after.margins[at].value_new_contacts) >
                                as_number(before.margins[at].value_new_contacts)
                            ? 1
                            : 0;
  }
  return changes;
}

// Where a given enters by a limit that another one may decide, it need not move the margin.
bool may_stay(std::string_view id, EntryKind entry) {
  return id == "slot-limit-ua" || id == "all-limit-ua" || id == "slots-on" ||
         entry != EntryKind::at_device;
}

} // namespace

TEST_CASE("no sampled case of 100,000 is worse than the worst case") {
  Dice dice(20'261);
  Circuit circuit;
  int passed = 0;
  int samples = 0;
  for (int round = 0; round < 1'000; ++round) {
    const Case one = random_case(dice, all_entries[round % 3]);
    const Report report = report_of(one.in);
    for (int sample = 0; sample < 100; ++sample) {
      const PhaseSetting& setting = one.in.phases[static_cast<std::size_t>(sample) % 5];
      const bool high = sample % 2 == 0;
      const bool near_worst = sample % 3 == 0;
      const Sampled sampled = circuit.sample(one, setting, high, waits_of(report), [&] {
        return near_worst ? 1 - 1e-3 * dice.unit() : dice.unit();
      });
      passed += passed_bounds(report, sampled, one, setting.phase);
      ++samples;
    }
  }
  CHECK(samples == 100'000);
  CHECK(passed == 0);
}

TEST_CASE("the worst case is no worse than the circuit can be, but for rounding") {
  Dice dice(4'711);
  Circuit circuit;
  constexpr double rounding = 10e-6; // a few micro-ohm at 0.3 A, and a microvolt for each step
  int loose = 0;
  for (int round = 0; round < 300; ++round) {
    const Case one = random_case(dice, all_entries[round % 3]);
    const Report report = report_of(one.in);
    double load_most = 0;
    for (const PhaseSetting& setting : one.in.phases) {
      load_most = std::max<double>(load_most, setting.load_ua);
    }
    for (const PhaseSetting& setting : one.in.phases) {
      const auto ends = [&](bool high, double station) {
        bool first = true; // the first place asked for is the station's
        return circuit.sample(one, setting, high, waits_of(report), [&, station]() mutable {
          const double place = first ? station : 1;
          first = false;
          return place;
        });
      };
      const Sampled high = ends(true, 1);
      const Sampled low = ends(false, 1);
      loose += std::abs(high.device - volts(report, "device-high-uv", setting.phase)) > rounding;
      loose += std::abs(low.entry - volts(report, "entry-low-uv", setting.phase)) > rounding;
      loose += std::abs(low.device - volts(report, "device-low-uv", setting.phase)) > rounding;
      if (setting.phase == Phase::verify_high) { // the highest setting decides both times
        loose += std::abs(high.charge_time / seconds(report, "charge-us") - 1) > 1e-3;
        const double target = one.in.station.removal_mv * 1e-3;
        loose += discharges(one.in) && high.left_after_removal < target * 0.999;
      }
      if (setting.load_ua == load_most) {
        loose += std::abs(low.all_current - volts(report, "all-ua", Phase::all)) > rounding;
      }
    }
  }
  CHECK(loose == 0);
}

TEST_CASE("more of anything harmful worsens each margin that it enters and improves none") {
  Dice dice(99);
  for (int round = 0; round < 30; ++round) {
    const EntryKind entry = all_entries[round % 3];
    const Case one = random_case(dice, entry);
    const Report before = report_of(one.in);
    for (const Knob& knob : knobs()) {
      if (knob.step == 0 || find(before.sheet, knob.id, Phase::all) == nullptr) {
        continue;
      }
      INFO(knob.id);
      Inputs worse = one.in;
      knob.set(worse, given_of(one.in, knob.id) + knob.step);
      const Changes changes = compare(before, report_of(worse), knob.id);
      CHECK(changes.improved == 0);
      CHECK(changes.strayed == 0);
      if (!may_stay(knob.id, entry)) {
        CHECK(changes.unmoved == 0);
        CHECK(changes.worsened > 0);
      }
    }
  }
}

TEST_CASE("more load worsens every low voltage, its slot and all of them, and improves none") {
  Dice dice(7);
  for (int round = 0; round < 30; ++round) {
    const EntryKind entry = all_entries[round % 3];
    const Case one = random_case(dice, entry);
    const Report before = report_of(one.in);
    Inputs worse = one.in;
    for (PhaseSetting& setting : worse.phases) {
      setting.load_ua += 1'000;
    }
    const Changes changes = compare(before, report_of(worse), "load-ua");
    CHECK(changes.improved == 0);
    CHECK(changes.strayed == 0);
    if (entry == EntryKind::before_regulator) {
      CHECK(changes.worsened >= 5 * 2 + 2); // a device behind a regulator may see nothing of it
    } else {
      CHECK(changes.unmoved == 0);
      // A phase: device, entry, slot, and of two what works besides; all slots; the rise; and a
      // phase's line over the device where that moves.
      CHECK(changes.worsened >= 5 * 3 + 2 + 2);
      CHECK(changes.worsened <= 5 * 4 + 2 + 2);
    }
  }
}

TEST_CASE("every formula's text gives the sheet's value, and every margin its own") {
  Dice dice(31);
  for (int round = 0; round < 30; ++round) {
    const EntryKind entry = all_entries[round % 3];
    Case one = random_case(dice, entry);
    if (round % 5 == 0) {
      one.in.board.start_ua = one.in.station.slot_limit_ua;
    }
    if (round % 7 == 0) {
      one.in.station.bleed_ohm.reset();
    }
    const Report report = report_of(one.in);
    for (const Quantity& quantity : report.sheet) {
      if (!quantity.formula.empty()) {
        check_formula(report.sheet, quantity);
      }
    }
    for (const Margin& margin : report.margins) {
      INFO(margin.id << " = " << margin.formula);
      Formula formula(report.sheet, margin.phase, margin.formula);
      const double exact = formula.value();
      CHECK(formula.good());
      CHECK(margin.margin.has_value() == (margin.standing != Standing::never));
      if (margin.margin) {
        CHECK(static_cast<double>(*margin.margin) == exact);
        CHECK((exact >= 0) == (margin.standing == Standing::holds));
      }
      CHECK(margin.formula.size() <= 192);
      CHECK_FALSE(givens_of(report.sheet, margin.formula).empty());
    }
  }
}

TEST_CASE("what a board makes of its own supply is never outside its bounds") {
  Dice dice(2'027);
  for (int round = 0; round < 3'000; ++round) {
    const Case one = random_case(dice, all_entries[round % 3]);
    OwnInputs in{one.in.signals, one.in.board, one.in.device, {Phase::program, Phase::verify}};
    const Report report = *calculate(in);
    const double from = in.board.entry_min_mv * 1e-3;
    const double own = from + (in.board.entry_max_mv * 1e-3 - from) * dice.unit();
    const auto at = [&] { return dice.unit(); };
    const double device = Circuit::behind_entry(in.board, own, round % 2 == 0, at);
    const double off = in.signals.tolerance_mv * 1e-3 * (2 * dice.unit() - 1);
    const double line = in.signals.follows_supply ? own : in.signals.set_mv * 1e-3 + off;
    INFO(round);
    CHECK(device >= volts(report, "device-low-uv", Phase::all) - nothing);
    CHECK(device <= volts(report, "device-high-uv", Phase::all) + nothing);
    CHECK(line <= volts(report, "signal-high-uv", Phase::all) + nothing);
    CHECK(line - device <= volts(report, "line-over-uv", Phase::all) + nothing);
  }
}

TEST_CASE("the givens of a margin are those that its formulas name") {
  Dice dice(1);
  const Report report = report_of(random_case(dice, EntryKind::at_device).in);
  CHECK(ids_in("max(0, a-uv - (b-ua * 2 + most(b-ua)) / 10)") ==
        std::vector<std::string_view>{"a-uv", "b-ua"});
  CHECK(
      givens_of(report.sheet, "absolute-max-mv * 1000 - device-high-uv") ==
      std::vector<std::string_view>{"tolerance-mv", "tolerance-ppm", "absolute-max-mv", "set-mv"});
  CHECK(has(givens_of(report.sheet, "entry-low-uv"), "cable-c"));
  CHECK_FALSE(has(givens_of(report.sheet, "entry-low-new-uv"), "contact-worn-uohm"));
}

TEST_CASE("a given outside its range is refused by its id, and at its ends is taken") {
  Dice dice(5);
  for (const EntryKind entry : all_entries) {
    const Case one = random_case(dice, entry);
    for (const Given& given : givens(one.in)) {
      if (given.phase != Phase::all) {
        continue; // below
      }
      INFO(given.id);
      const auto& all = knobs();
      const auto knob =
          std::find_if(all.begin(), all.end(), [&](const Knob& k) { return k.id == given.id; });
      REQUIRE(knob != all.end());
      Inputs in = one.in;
      knob->set(in, given.most + 1);
      REQUIRE(out_of_range(in));
      CHECK(out_of_range(in)->id == given.id);
      CHECK(calculate(in).error().most == given.most);
      if (given.least > 0 || given.id == "cable-c") {
        knob->set(in, given.least - 1);
        REQUIRE(out_of_range(in));
        CHECK(out_of_range(in)->id == given.id);
        CHECK(calculate(in).error().least == given.least);
      }
    }
  }
}

TEST_CASE("givens that contradict each other are refused") {
  Dice dice(8);
  const auto refused = [&](EntryKind entry, auto change) {
    Inputs in = random_case(dice, entry).in;
    change(in);
    const auto report = calculate(in);
    return report ? std::string_view("none") : report.error().id;
  };
  const auto at_device = [&](auto change) { return refused(EntryKind::at_device, change); };
  CHECK(at_device([](Inputs& in) { in.station.all_limit_ua = in.station.slot_limit_ua - 1; }) ==
        "all-limit-ua");
  CHECK(at_device([](Inputs& in) {
          in.contacts.worn_uohm = 4;
          in.contacts.new_uohm = 5;
        }) == "contact-worn-uohm");
  CHECK(at_device([](Inputs& in) { in.board.entry_max_mv = in.board.entry_min_mv - 1; }) ==
        "entry-max-mv");
  CHECK(at_device([](Inputs& in) { in.device.program_min_mv = 1'799; }) == "program-min-mv");
  CHECK(at_device([](Inputs& in) { in.device.program_max_mv = 2'699; }) == "program-max-mv");
  CHECK(at_device([](Inputs& in) { in.device.erase_min_mv = 1'799; }) == "erase-min-mv");
  CHECK(at_device([](Inputs& in) { in.device.erase_max_mv = 2'499; }) == "erase-max-mv");
  CHECK(at_device([](Inputs& in) { in.device.program_max_mv = 5'501; }) == "operating-max-mv");
  CHECK(at_device([](Inputs& in) { in.device.erase_max_mv = 5'501; }) == "operating-max-mv");
  CHECK(at_device([](Inputs& in) { in.device.absolute_max_mv = 5'499; }) == "absolute-max-mv");
  CHECK(refused(EntryKind::before_diode, [](Inputs& in) {
          in.board.drop_most_mv = in.board.drop_least_mv - 1;
        }) == "drop-most-mv");
  CHECK(refused(EntryKind::before_regulator, [](Inputs& in) {
          in.board.output_most_mv = in.board.output_least_mv - 1;
        }) == "output-most-mv");
  CHECK(at_device([](Inputs&) {}) == "none");
}

TEST_CASE("phases are one to five, ascending, each once") {
  Dice dice(6);
  Inputs in = random_case(dice, EntryKind::at_device).in;
  in.phases[0].set_mv = 60'001;
  CHECK(calculate(in).error().id == "set-mv");
  in.phases[0].set_mv = 0;
  CHECK(calculate(in).error().least == 1);
  in.phases = {{Phase::verify, 3'300, 100'000'001}};
  CHECK(calculate(in).error().id == "load-ua");
  in.phases = {};
  CHECK(calculate(in).error().id == "phases");
  in.phases = {{Phase::all, 3'300, 0}};
  CHECK(calculate(in).error().id == "phase");
  in.phases = {{Phase::verify, 3'300, 0}, {Phase::verify, 3'300, 0}};
  CHECK(calculate(in).error().least == 4);
  in.phases = {{Phase::verify, 3'300, 0}, {Phase::program, 3'300, 0}};
  CHECK(calculate(in).error().id == "phase");
}

TEST_CASE("the greatest and the smallest givens are computed without overflow") {
  for (const EntryKind entry : all_entries) {
    Inputs in;
    in.board.entry = entry;
    in.station.bleed_ohm = 1'000'000;
    for (const Phase phase :
         {Phase::program, Phase::erase, Phase::verify, Phase::verify_low, Phase::verify_high}) {
      in.phases.push_back({phase, phase == Phase::verify_low ? 1U : 60'000U, 100'000'000});
    }
    // The most of a given that another one limits follows it: twice gets all of them there.
    for (int round = 0; round < 2; ++round) {
      for (const Given& given : givens(in)) {
        for (const Knob& knob : knobs()) {
          if (knob.id == given.id) {
            knob.set(in, given.most);
          }
        }
      }
    }
    in.station.removal_mv = 1;
    const Report report = report_of(in);
    CHECK(*find(report.sheet, "station-high-uv", Phase::program)->value == 100'000'000);
    CHECK(find(report.sheet, "device-low-uv", Phase::program)->value == 0);
    CHECK(worst(report) == Standing::harms);

    Inputs least;
    least.board.entry = entry;
    least.station.removal_mv = 1;
    least.board.signal_max_mv = 1;
    least.phases = {{Phase::program, 1, 0}};
    CHECK(worst(report_of(least)) == Standing::harms); // above a greatest voltage of nothing
  }
}
