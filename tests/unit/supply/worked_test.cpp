#include <algorithm>
#include <cmath>

#include "circuit.h"
#include "formula.h"
#include "report.h"
#include "supply/copper.h"
#include "supply/cycle_time.h"
#include "supply/margins.h"
#include "supply/times.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::supply;

namespace {

const Margin& margin_of(const Report& report, std::string_view id, Phase phase) {
  const auto at =
      std::find_if(report.margins.begin(), report.margins.end(),
                   [&](const Margin& margin) { return margin.id == id && margin.phase == phase; });
  REQUIRE(at != report.margins.end());
  return *at;
}

std::int64_t value_of(const Report& report, std::string_view id, Phase phase = Phase::all) {
  const Quantity* quantity = find(report.sheet, id, phase);
  REQUIRE(quantity != nullptr);
  REQUIRE(quantity->value);
  return *quantity->value;
}

// 3.3 V +- (50 mV and 1 %), four slots of at most 300 mA, 10 milliohm of shared return; 0.3 m of
// 28 AWG at 20 degrees, one contact each way. Board and device are invented.
Inputs frost_node() {
  Inputs in;
  in.station = {.tolerance_mv = 50,
                .tolerance_ppm = 10'000,
                .slots_on = 4,
                .slot_limit_ua = 300'000,
                .all_limit_ua = 1'000'000,
                .shared_return_uohm = 10'000,
                .settle_us = 20'000,
                .wait_us = 2'000'000,
                .bleed_ohm = 1'000,
                .removal_mv = 100};
  in.cable = {300, find_gauge(28)->uohm_per_m, 20};
  in.contacts = {1, 1, 20'000, 500'000};
  in.board.entry_min_mv = 2'500;
  in.board.entry_max_mv = 3'600;
  in.board.start_ua = 50'000;
  in.board.capacitance_nf = 470'000;
  in.board.signal_max_mv = 6'000;
  in.board.signal_over_mv = 500;
  in.device = {.operating_min_mv = 1'800,
               .operating_max_mv = 3'600,
               .program_min_mv = 2'700,
               .program_max_mv = 3'600,
               .erase_min_mv = 2'700,
               .erase_max_mv = 3'600,
               .absolute_max_mv = 4'000};
  in.phases = {{Phase::program, 3'300, 200'000}, {Phase::verify, 3'300, 100'000}};
  return in;
}

// ASTM B258: d = 0.127 mm * 92^((36 - n) / 39); IEC 60028: 0.017241 ohm mm2/m.
double area_mm2(double awg) {
  const double diameter = 0.127 * std::pow(92.0, (36.0 - awg) / 39.0);
  return std::acos(-1.0) / 4 * diameter * diameter;
}

} // namespace

TEST_CASE("every row of the gauge table is its formula's, area down and resistance up") {
  std::uint32_t awg = 20;
  for (const Gauge& row : gauges) {
    INFO(row.awg);
    CHECK(row.awg == awg++);
    CHECK(row.area_um2 == std::floor(area_mm2(row.awg) * 1e6));
    CHECK(row.uohm_per_m == std::ceil(17'241 / area_mm2(row.awg)));
    CHECK(find_gauge(row.awg) == &row);
  }
  CHECK(awg == 35);
  CHECK(find_gauge(19) == nullptr);
  CHECK(find_gauge(35) == nullptr);
}

// Published: 28 AWG is 0.0810 mm2 and 0.213 ohm/m, 26 AWG 0.129 mm2 and 0.134 ohm/m (ASTM B258 with
// IEC 60028).
TEST_CASE("gauges 28 and 26 have the published area and resistance") {
  CHECK(std::lround(find_gauge(28)->area_um2 / 100.0) == 810);
  CHECK(std::lround(find_gauge(28)->uohm_per_m / 1000.0) == 213);
  CHECK(std::lround(find_gauge(26)->area_um2 / 1000.0) == 129);
  CHECK(std::lround(find_gauge(26)->uohm_per_m / 1000.0) == 134);
}

TEST_CASE("a wire's resistance follows its area, length and temperature") {
  // 1 mm2 of annealed copper is 0.017241 ohm a metre: the definition (IEC 60028).
  CHECK(*uohm_per_m_of(1'000'000) == 17'241);
  CHECK(*uohm_per_m_of(250'000) == 68'964);
  CHECK(*wire_uohm(1'000, 17'241, 20) == 17'241);
  // 17,241 * (1 + 0.00393 * 50) = 20,628.86
  CHECK(*wire_uohm(1'000, 17'241, 70) == 20'629);
  // 17,241 * (1 - 0.00393 * 60) = 13,175.6
  CHECK(*wire_uohm(1'000, 17'241, -40) == 13'176);
  CHECK(*wire_uohm(0, 17'241, 20) == 0);
  CHECK(uohm_per_m_of(9'999).error().least == 10'000);
  CHECK(uohm_per_m_of(10'000'001).error().id == "cable-area-um2");
  CHECK(wire_uohm(1'000, 17'241, 126).error().id == "cable-c");
}

// 0.3 m of 28 AWG there and back at 200 mA: 2 * 0.3 m * 0.213 ohm/m * 0.2 A = 26 mV. Two worn
// contacts of 0.5 ohm (from memory): 2 * 0.5 ohm * 0.2 A = 200 mV.
TEST_CASE("cable drops 26 mV and worn contacts 200 mV in the worked example") {
  Inputs in = frost_node();
  in.station.tolerance_mv = 0;
  in.station.tolerance_ppm = 0;
  in.station.shared_return_uohm = 0;
  in.contacts = {1, 1, 0, 0};
  const std::int64_t cable_only =
      3'300'000 - value_of(report_of(in), "entry-low-uv", Phase::program);
  CHECK(std::lround(static_cast<double>(cable_only) / 1000) == 26);
  CHECK(cable_only == 25'551); // 2 * 63,876 uohm * 0.2 A = 25,550.4 uV
  in.contacts.worn_uohm = 500'000;
  const Report worn = report_of(in);
  CHECK(3'300'000 - value_of(worn, "entry-low-uv", Phase::program) == 225'551);
  CHECK(3'300'000 - value_of(worn, "entry-low-new-uv", Phase::program) == 25'551);
}

// high = 3,300 + 50 + 33 mV. low = 3,300 - 50 - 33 mV
//        - (2 * 63,876 + 2 * 500,000) uohm * 0.2 A - 10,000 uohm * 4 * 0.2 A
//      = 3,217,000 - 225,550.4 - 8,000 = 2,983,449.6 uV
TEST_CASE("the worst voltages of the worked example are the hand-computed ones") {
  const Report report = report_of(frost_node());
  CHECK(value_of(report, "wire-uohm") == 63'876); // 300 * 212,917 / 1,000 = 63,875.1
  CHECK(value_of(report, "loop-worn-uohm") == 1'127'752);
  CHECK(value_of(report, "device-high-uv", Phase::program) == 3'383'000);
  CHECK(value_of(report, "device-low-uv", Phase::program) == 2'983'449);
  // 3,217,000 - 167,752 uohm * 0.2 A - 8,000 = 3,175,449.6
  CHECK(value_of(report, "device-low-new-uv", Phase::program) == 3'175'449);
  // At verify 0.1 A here, the three others still at 0.2 A: 3,217,000 - 112,775.2 - 7,000
  CHECK(value_of(report, "device-low-uv", Phase::verify) == 3'097'224);

  CHECK(margin_of(report, "device-absolute-max", Phase::program).margin == 617'000);
  CHECK(margin_of(report, "device-program-min", Phase::program).margin == 283'449);
  CHECK(margin_of(report, "device-program-min", Phase::program).value_new_contacts == 3'175'449);
  CHECK(margin_of(report, "device-program-max", Phase::program).margin == 217'000);
  CHECK(margin_of(report, "device-operating-min", Phase::verify).margin == 1'297'224);
  CHECK(margin_of(report, "board-entry-min", Phase::program).margin == 483'449);
  CHECK(margin_of(report, "slot-current", Phase::verify).margin == 200'000);
  CHECK(margin_of(report, "all-current", Phase::all).margin == 200'000);
  // 250 mA a slot by its share of 1 A: 470 uF * 3.383 V / (250 - 50 mA) = 7,950.05 us
  CHECK(margin_of(report, "charge-time", Phase::all).value == 7'951);
  CHECK(worst(report) == Standing::holds);
  CHECK(report.margins.size() == 2 * 7 + 2 + 4);
}

// V(device) behind a diode of 0.3 to 0.7 V; behind a regulator of 3.2 to 3.4 V with 0.4 V dropout.
TEST_CASE("a diode takes its drop and a regulator holds its output while it can") {
  Inputs in = frost_node();
  in.board.entry = EntryKind::before_diode;
  in.board.drop_least_mv = 300;
  in.board.drop_most_mv = 700;
  Report report = report_of(in);
  CHECK(value_of(report, "device-high-uv", Phase::program) == 3'083'000);
  CHECK(value_of(report, "device-low-uv", Phase::program) == 2'283'449);
  CHECK(margin_of(report, "device-program-min", Phase::program).standing == Standing::misses);
  CHECK(margin_of(report, "discharge-removal", Phase::all).standing == Standing::never);
  CHECK_FALSE(margin_of(report, "discharge-removal", Phase::all).margin);

  in.board.entry = EntryKind::before_regulator;
  in.board.drop_most_mv = 400;
  in.board.output_least_mv = 3'200;
  in.board.output_most_mv = 3'400;
  in.board.entry_max_mv = 6'000;
  in.phases[0].set_mv = 5'000; // 5,000 - 50 - 50 - 233.6 = 4,666 mV, well above 3,200 + 400
  report = report_of(in);
  CHECK(value_of(report, "device-high-uv", Phase::program) == 3'400'000);
  CHECK(value_of(report, "device-low-uv", Phase::program) == 3'200'000);
  // At 3,300 mV it follows its entry: 3,097,224 - 400,000
  CHECK(value_of(report, "device-low-uv", Phase::verify) == 2'697'224);
  CHECK(value_of(report, "device-high-uv", Phase::verify) == 3'383'000);
  // The highest setting counts, also when it is not the last: 470 uF * 5.1 V / 200 mA
  CHECK(value_of(report, "charge-us") == 11'985);
  CHECK_FALSE(setting_reaches_device(EntryKind::before_regulator));
  CHECK(setting_reaches_device(EntryKind::before_diode));
}

TEST_CASE("one microvolt decides: at the limit holds, beyond it misses or harms") {
  Inputs in = frost_node();
  in.station.tolerance_mv = 0;
  in.station.tolerance_ppm = 0;
  in.board.entry_max_mv = 3'300;
  CHECK(worst(report_of(in)) == Standing::holds);
  in.station.tolerance_ppm = 1; // 3.3 uV, rounded up
  Report report = report_of(in);
  CHECK(margin_of(report, "board-entry-max", Phase::program).margin == -4);
  CHECK(margin_of(report, "board-entry-max", Phase::program).standing == Standing::harms);
  in.board.entry_max_mv = 3'600;
  in.device.absolute_max_mv = in.device.operating_max_mv = 3'300;
  in.device.program_max_mv = in.device.erase_max_mv = 3'300;
  report = report_of(in);
  CHECK(margin_of(report, "device-absolute-max", Phase::program).standing == Standing::harms);
  CHECK(margin_of(report, "device-program-max", Phase::program).standing == Standing::misses);
  CHECK(worst(report) == Standing::harms);
}

TEST_CASE("each phase is held against the limits of what it does") {
  Inputs in = frost_node();
  in.device.erase_min_mv = 3'100;
  in.device.program_min_mv = 2'900;
  in.phases = {{Phase::program, 3'300, 0},
               {Phase::erase, 3'300, 0},
               {Phase::verify, 3'300, 0},
               {Phase::verify_low, 1'900, 0},
               {Phase::verify_high, 3'500, 0}};
  const Report report = report_of(in);
  CHECK(margin_of(report, "device-program-min", Phase::program).limit == 2'900'000);
  CHECK(margin_of(report, "device-erase-min", Phase::erase).limit == 3'100'000);
  CHECK(margin_of(report, "device-operating-min", Phase::verify_low).margin == 31'000);
  CHECK(margin_of(report, "device-operating-max", Phase::verify_high).margin == 15'000);
  // From 3,585 mV (verify high) to 1,831 mV through 1,000 + 1.127752 + 4 * 0.01 ohm:
  // 1,001.167752 ohm * 470 uF * ln(3,585 / 1,831) = 470.5488 ms * 0.6718962 = 316,159.98 us
  const Margin& fall = margin_of(report, "discharge-verify-low", Phase::verify_low);
  CHECK(*fall.value >= 316'160);
  CHECK(*fall.value <= 316'162);
  CHECK(fall.margin == 2'000'000 - *fall.value);
  // The board draws nothing: from 1,831 mV (no drop) to 3,585 mV with 250 mA, its share:
  // 470 uF * 1.754 V / 250 mA = 3,297.52 us
  const Margin& rise = margin_of(report, "charge-verify-high", Phase::verify_high);
  CHECK(rise.value == 3'298);
  CHECK(rise.margin == 20'000 - 3'298);
  CHECK(report.margins.size() == 5 * 7 + 4 + 2 + 4);
}

// C * V / (limit - board current): 470 uF at 3.3 V takes 7.8 ms at 200 mA with no load, 31 ms with
// 150 mA drawn; a board that draws the limit never starts.
TEST_CASE("charging takes the worked times, and never ends for a board that draws the limit") {
  CHECK(charge_us(470'000, 3'300'000, 200'000, 0).value() == 7'755);
  CHECK(charge_us(470'000, 3'300'000, 200'000, 150'000).value() == 31'020);
  CHECK(charge_us(470'000, 3'300'000, 200'000, 199'999).value() == 1'551'000'000);
  CHECK_FALSE(charge_us(470'000, 3'300'000, 200'000, 200'000).value());
  CHECK_FALSE(charge_us(470'000, 3'300'000, 200'000, 200'001).value());
  CHECK(charge_us(1, 1, 2, 1).value() == 1); // 1 ns, rounded up
  CHECK(charge_us(100'000'001, 1, 2, 1).error().id == "capacitance-nf");

  Inputs in = frost_node();
  in.board.start_ua = 250'000; // its share of 1 A is just that
  const Report report = report_of(in);
  CHECK(margin_of(report, "charge-time", Phase::all).standing == Standing::never);
  CHECK(worst(report) == Standing::never);
}

// From the low verify supply to the high one while the board draws 100 mA: it starts at what stands
// at the entry at the worst there, 1,900 - 50 - 19 - (1,127,752 uohm * 0.1 A + 10,000 uohm * 0.4 A)
// = 1,714.2248 mV with the load of 100 mA in every slot, and ends at 3,585 mV.
// C * V / (limit - board current): 470 uF * 1.870776 V / (250 - 100 mA) = 5,861.76 us
TEST_CASE("a board under load rises from the low to the high verify supply in the worked time") {
  Inputs in = frost_node();
  in.phases = {{Phase::program, 3'300, 100'000},
               {Phase::verify_low, 1'900, 100'000},
               {Phase::verify_high, 3'500, 100'000}};
  Report report = report_of(in);
  CHECK(value_of(report, "entry-low-uv", Phase::verify_low) == 1'714'224);
  CHECK(value_of(report, "verify-rise-uv", Phase::verify_high) == 1'870'776);
  CHECK(margin_of(report, "charge-verify-high", Phase::verify_high).value == 5'862);
  in.phases[2].load_ua = 250'000; // its share of 1 A is just that
  report = report_of(in);
  CHECK(margin_of(report, "charge-verify-high", Phase::verify_high).standing == Standing::never);
}

// Two resistors side by side: R1 * R2 / (R1 + R2). The station's 1,000 ohm with 1.127752 + 4 * 0.01
// ohm in series beside 1,000 ohm on the board: 1,001.168 * 1,000 / 2,001.168 = 500.292 ohm (up to a
// milliohm). Behind a diode the board's own alone.
TEST_CASE("a resistor of the board's own discharges it too, also behind a diode") {
  Inputs in = frost_node();
  in.board.bleed_ohm = 1'000;
  Report report = report_of(in);
  CHECK(value_of(report, "station-path-mohm") == 1'001'168);
  CHECK(value_of(report, "discharge-mohm") == 500'292);
  in.board.entry = EntryKind::before_diode;
  in.board.drop_most_mv = 100;
  report = report_of(in);
  CHECK(value_of(report, "discharge-mohm") == 1'000'000);
  CHECK(margin_of(report, "discharge-removal", Phase::all).margin.has_value());
}

TEST_CASE("lines that follow the supply are as high as it gets, fixed ones by their tolerance") {
  Inputs in = frost_node();
  in.board.signal_min_mv = 2'000;
  in.board.signal_max_mv = 3'383; // the supply is 3,383 mV at the most, as worked above
  Report report = report_of(in);
  CHECK(margin_of(report, "signal-max", Phase::all).margin == 0);
  CHECK(find(report.sheet, "signal-low-uv", Phase::all) == nullptr);
  in.board.signal_max_mv = 3'382;
  CHECK(margin_of(report_of(in), "signal-max", Phase::all).standing == Standing::harms);

  in.signals = {.follows_supply = false, .set_mv = 3'300, .tolerance_mv = 82};
  report = report_of(in);
  CHECK(margin_of(report, "signal-max", Phase::all).margin == 0);
  CHECK(margin_of(report, "signal-min", Phase::all).margin == 1'218'000); // 3,218 - 2,000 mV
  in.signals.set_mv = 2'081;
  CHECK(margin_of(report_of(in), "signal-min", Phase::all).standing == Standing::misses);
}

// A line that follows the supply stands above the device by what the way there takes: 225,550.4 uV
// of cable and worn contacts and 8,000 uV of shared return, as worked above, whatever the
// tolerance. A fixed 5 V +- 100 mV is 5,100 - 2,983.449 mV above the device at its lowest. Between
// supply and device a diode adds its drop, and a regulator of 2.5 V holds the device down: 3,383 -
// 2,500 mV.
TEST_CASE("a line that stands too far above the device's own supply harms") {
  Inputs in = frost_node();
  Report report = report_of(in);
  CHECK(value_of(report, "line-over-uv", Phase::program) == 233'551);
  CHECK(margin_of(report, "signal-over-device", Phase::program).margin == 266'449);
  in.board.signal_over_mv = 233;
  CHECK(margin_of(report_of(in), "signal-over-device", Phase::program).standing == Standing::harms);

  in.board.entry = EntryKind::before_diode;
  in.board.drop_least_mv = 200;
  in.board.drop_most_mv = 700;
  CHECK(value_of(report_of(in), "line-over-uv", Phase::program) == 933'551);
  in.board.entry = EntryKind::before_regulator;
  in.board.drop_most_mv = 100;
  in.board.output_least_mv = 2'500;
  in.board.output_most_mv = 2'600;
  CHECK(value_of(report_of(in), "line-over-uv", Phase::program) == 883'000);

  in = frost_node();
  in.board.signal_max_mv = 5'500;
  in.signals = {.follows_supply = false, .set_mv = 5'000, .tolerance_mv = 100};
  report = report_of(in);
  CHECK(margin_of(report, "signal-max", Phase::all).standing == Standing::holds);
  CHECK(value_of(report, "line-over-uv", Phase::program) == 5'100'000 - 2'983'449);
  CHECK(margin_of(report, "signal-over-device", Phase::program).standing == Standing::harms);
}

// What a board makes of its own supply has no cable, contacts or station's tolerance in it.
TEST_CASE("a board that supplies itself is held against the device at its lowest and highest") {
  OwnInputs in;
  in.device = frost_node().device;
  in.board = frost_node().board;
  in.board.entry_min_mv = 3'000;
  in.board.entry_max_mv = 3'700;
  in.phases = {Phase::program, Phase::erase, Phase::verify};
  Report report = *calculate(in);
  REQUIRE(report.margins.size() == 3 * 3 + 2 * 2 + 2);
  CHECK(margin_of(report, "device-absolute-max", Phase::program).margin == 300'000);
  CHECK(margin_of(report, "device-program-max", Phase::program).margin == -100'000);
  CHECK(margin_of(report, "device-erase-min", Phase::erase).margin == 300'000);
  CHECK(margin_of(report, "device-operating-min", Phase::verify).margin == 1'200'000);
  CHECK(margin_of(report, "signal-max", Phase::all).value == 3'700'000);

  in.board.entry = EntryKind::before_diode;
  in.board.drop_least_mv = 200;
  in.board.drop_most_mv = 400;
  report = *calculate(in);
  CHECK(margin_of(report, "device-program-max", Phase::program).value == 3'500'000);
  CHECK(margin_of(report, "device-program-min", Phase::program).value == 2'600'000);
  CHECK(margin_of(report, "signal-max", Phase::all).value == 3'700'000); // before the diode
  CHECK(margin_of(report, "signal-over-device", Phase::all).value == 400'000);

  in.board.entry = EntryKind::before_regulator;
  in.board.output_least_mv = 3'200;
  in.board.output_most_mv = 3'400;
  report = *calculate(in);
  CHECK(margin_of(report, "device-program-max", Phase::program).value == 3'400'000);
  // 3,000 - 400 mV of dropout at the lowest; 3,700 - 3,200 mV for a line at the highest
  CHECK(margin_of(report, "device-program-min", Phase::program).value == 2'600'000);
  CHECK(margin_of(report, "device-operating-min", Phase::program).value == 2'600'000);
  CHECK(margin_of(report, "signal-over-device", Phase::all).value == 500'000);
  for (const EntryKind entry :
       {EntryKind::at_device, EntryKind::before_diode, EntryKind::before_regulator}) {
    for (const bool follows : {true, false}) {
      in.board.entry = entry;
      in.signals = {.follows_supply = follows, .set_mv = 3'300, .tolerance_mv = 50};
      report = *calculate(in);
      for (const Quantity& quantity : report.sheet) {
        if (!quantity.formula.empty()) {
          Formula formula(report.sheet, quantity.phase, quantity.formula);
          INFO(quantity.id << " = " << quantity.formula);
          CHECK(formula.value() == static_cast<double>(*quantity.value));
          CHECK(formula.good());
        }
      }
    }
  }
  in.phases = {Phase::verify_low};
  CHECK(calculate(in).error().id == "phase");
}

// R * C * ln(from / to), exponential decay (from memory): 1 kohm * 470 uF * ln 33 = 1,643,358.6 us;
// after one time constant 1/e is left.
TEST_CASE("discharging takes its exponential time, and never reaches nothing") {
  const Time worked = discharge_us(470'000, 1'000'000, 3'300'000, 100'000).value();
  CHECK(*worked >= 1'643'359);
  CHECK(*worked <= 1'643'361);
  const Time constant = discharge_us(1'000'000, 1'000'000, 2'718'282, 1'000'000).value();
  CHECK(*constant >= 1'000'000);
  CHECK(*constant <= 1'000'003);
  CHECK(discharge_us(470'000, 1'000'000, 100'000, 100'000).value() == 0);
  CHECK_FALSE(discharge_us(470'000, 1'000'000, 100'000, 0).value());
  CHECK(discharge_us(470'000, 0, 100'000, 1).error().id == "discharge-mohm");
}

TEST_CASE("without a path a board keeps its charge, unless it has none that matters") {
  Inputs in = frost_node();
  in.station.bleed_ohm.reset();
  CHECK(margin_of(report_of(in), "discharge-removal", Phase::all).standing == Standing::never);
  in.station.removal_mv = 3'383; // just what it is at most
  CHECK(margin_of(report_of(in), "discharge-removal", Phase::all).value == 0);
  in.station.removal_mv = 100;
  in.board.capacitance_nf = 0;
  CHECK(margin_of(report_of(in), "discharge-removal", Phase::all).value == 0);
}

TEST_CASE("the whole-number logarithm is never below the real one and at most 2 millionths above") {
  std::int64_t wrong = 0;
  for (std::int64_t to : {1LL, 2LL, 3LL, 1'000LL, 99'999LL, 1'800'000LL, 100'000'000LL}) {
    for (std::int64_t from = to; from <= most_uv; from += 1 + (from - to) / 7) {
      const double exact = std::log(static_cast<double>(from) / static_cast<double>(to)) * 1e6;
      const auto found = static_cast<double>(ln_millionths_up(from, to));
      wrong += found < exact - 1e-6 || found > exact + 2 ? 1 : 0;
    }
  }
  CHECK(wrong == 0);
  CHECK(ln_millionths_up(1, 1) == 0);
  CHECK(ln_millionths_up(1, 2) == 0);
  CHECK(ln_millionths_up(2, 1) == 693'148); // ln 2 = 0.6931472
}

// 32,768 bytes at 4,096 a second: 8 s; two passes at 16,384: 4 s; erase 1 s, overhead 2 s: 15 s,
// the slowest board 16.5 s. Four slots, 5 s of handling a board and 10 s a cycle:
//   together          16.5 + 4 * 5 + 10      = 46.5 s
//   one after another 4 * (16.5 + 5) + 10    = 96 s
// 97 good boards at a yield of 95 %: 102.1, so 103 boards, 26 cycles, the last with 3:
//   together          600 + 25 * 46.5 + (16.5 + 3 * 5 + 10) = 1,804 s
//   one after another 600 + 25 * 96 + (3 * 21.5 + 10)       = 3,074.5 s
TEST_CASE("a cycle and a lot take the hand-computed times") {
  CycleInputs in;
  in.program_bytes = in.verify_bytes = 32'768;
  in.program_bytes_per_s = 4'096;
  in.verify_bytes_per_s = 16'384;
  in.verify_passes = 2;
  in.erase_us = 1'000'000;
  in.overhead_us = 2'000'000;
  in.slowest_ppm = 100'000;
  in.slots_on = 4;
  in.handling_board_us = 5'000'000;
  in.handling_cycle_us = 10'000'000;
  in.quantity = 97;
  in.yield_ppm = 950'000;
  in.setup_us = 600'000'000;
  const auto together = cycle_time(in);
  REQUIRE(together);
  CHECK(together->board_us == 16'500'000);
  CHECK(together->cycle_us == 46'500'000);
  CHECK(together->boards == 103);
  CHECK(together->cycles == 26);
  CHECK(together->lot_us == 1'804'000'000);
  in.order = SlotOrder::one_after_another;
  CHECK(cycle_time(in)->cycle_us == 96'000'000);
  CHECK(cycle_time(in)->lot_us == 3'074'500'000);
  in.quantity = 95; // exactly 100 boards and 25 full cycles
  CHECK(cycle_time(in)->boards == 100);
  CHECK(cycle_time(in)->lot_us == 600'000'000LL + 25 * 96'000'000LL);
}

TEST_CASE("a cycle refuses what it can't count, by its id") {
  CycleInputs in;
  in.yield_ppm = 99'999;
  CHECK(cycle_time(in).error().id == "yield-ppm");
  in = {};
  in.program_bytes = 0x7FFF'FFFF; // 2.1 * 10^12 us at 1,000 bytes a second
  CHECK(cycle_time(in).error().id == "board-us");
  CHECK(cycle_time(in).error().found == 2'147'483'647'000);
  in = {};
  in.program_bytes = 9'000'000; // the longest lot that is taken stays inside 63 bits
  in.slowest_ppm = 1'000'000;
  in.slots_on = 32;
  in.order = SlotOrder::one_after_another;
  in.handling_board_us = in.handling_cycle_us = 1'000'000'000;
  in.quantity = 9'999'999;
  in.yield_ppm = 100'000;
  in.setup_us = 0xFFFF'FFFF;
  // 10^8 - 10 boards of 18,000 + 1,000 s, 3,125,000 cycles of 1,000 s, and the set-up
  REQUIRE(cycle_time(in));
  CHECK(cycle_time(in)->lot_us ==
        99'999'990LL * 19'000'000'000LL + 3'125'000LL * 1'000'000'000LL + 0xFFFF'FFFFLL);
}

// The lot put through the slots board by board, with a clock.
TEST_CASE("a lot takes as long as working through it board by board") {
  Dice dice(12);
  for (int round = 0; round < 300; ++round) {
    CycleInputs in;
    in.program_bytes = dice.whole(0, 300'000);
    in.program_bytes_per_s = dice.whole(1'000, 50'000);
    in.verify_bytes = dice.whole(0, 300'000);
    in.verify_bytes_per_s = dice.whole(1'000, 100'000);
    in.verify_passes = dice.whole(0, 3);
    in.erase_us = dice.whole(0, 3'000'000);
    in.overhead_us = dice.whole(0, 3'000'000);
    in.slowest_ppm = dice.whole(0, 300'000);
    in.slots_on = dice.whole(1, 16);
    in.order = round % 2 == 0 ? SlotOrder::together : SlotOrder::one_after_another;
    in.handling_board_us = dice.whole(0, 9'000'000);
    in.handling_cycle_us = dice.whole(0, 9'000'000);
    in.quantity = dice.whole(1, 500);
    in.yield_ppm = dice.whole(800'000, 1'000'000);
    in.setup_us = dice.whole(0, 900'000'000);
    const auto found = cycle_time(in);
    REQUIRE(found);

    const double board = (double(in.program_bytes) / in.program_bytes_per_s +
                          double(in.verify_passes) * in.verify_bytes / in.verify_bytes_per_s +
                          in.erase_us * 1e-6 + in.overhead_us * 1e-6) *
                         (1 + in.slowest_ppm * 1e-6);
    std::int64_t boards = 0;
    while (static_cast<double>(boards) * in.yield_ppm < double(in.quantity) * 1e6) {
      ++boards;
    }
    double clock = in.setup_us * 1e-6;
    for (std::int64_t left = boards; left > 0;) {
      double programming = 0;
      for (std::uint32_t slot = 0; slot < in.slots_on && left > 0; ++slot, --left) {
        clock += in.handling_board_us * 1e-6;
        programming = in.order == SlotOrder::together ? board : programming + board;
      }
      clock += programming + in.handling_cycle_us * 1e-6;
    }
    CHECK(found->boards == boards);
    const double lot = static_cast<double>(found->lot_us) * 1e-6;
    CHECK(lot >= clock - 1e-6);
    CHECK(lot <= clock + 6e-6 * static_cast<double>(boards)); // three times rounded up a board
    for (const Quantity& quantity : found->sheet) {
      if (!quantity.formula.empty()) {
        check_formula(found->sheet, quantity);
      }
    }
  }
}
