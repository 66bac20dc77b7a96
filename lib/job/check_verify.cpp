// Is a unit verified, and does a verify at a low and a high supply show what it is meant to?
#include <algorithm>

#include <fmt/format.h>

#include "job/checks.h"
#include "job/rules.h"
#include "job/supply_case.h"

namespace cardseal::job {
namespace {

class VerifyCheck {
public:
  VerifyCheck(const ReleaseFile& release, const Inputs& in, Findings& findings)
      : release_(release), in_(in), findings_(findings) {}

  void run() {
    if (release_.settings.verify == format::Verify::none) {
      findings_.add(rules::verify_none, "verify is none: 0 bytes of a unit are read back",
                    release_.settings.place, "state verify=\"nominal\"");
    }
    if (!release_.supply.verify) {
      return;
    }
    check_order();
    if (release_.supply.source == format::SupplySource::board) {
      add(rules::verify_own_supply,
          fmt::format("{} makes its {} mV by itself; no station sets it to {} or {} mV",
                      in_.board.id, release_.supply.supply_mv, limits().low_mv, limits().high_mv),
          "state verify=\"nominal\", or let the station supply the board");
    } else if (!supply::setting_reaches_device(entry_kind(in_.board))) {
      add(rules::verify_regulator,
          fmt::format("{} or {} mV at the entry of {}, {} to {} mV at {} behind its regulator",
                      limits().low_mv, limits().high_mv, in_.board.id,
                      in_.board.supply.output_min_mv, in_.board.supply.output_max_mv,
                      in_.device.id),
          "state verify=\"nominal\"");
    } else {
      check_device();
    }
  }

private:
  const format::VerifyLimits& limits() const { return *release_.supply.verify; }

  void add(const Rule& rule, std::string text, std::string hint) {
    findings_.add(rule, std::move(text), release_.supply.place, std::move(hint));
  }

  void check_order() {
    const std::uint32_t mv = release_.supply.supply_mv;
    if (limits().low_mv >= limits().high_mv || mv < limits().low_mv || mv > limits().high_mv) {
      add(rules::verify_limits,
          fmt::format("verify at {} and {} mV, supply of {} mV", limits().low_mv, limits().high_mv,
                      mv),
          "state a low one below a high one, and the supply between them");
    }
  }

  // What stands at the device at the worst, against the range in which its maker answers for
  // reading; that may be narrower than the one in which it works.
  void check_device() {
    std::optional<std::int64_t> lowest;
    std::optional<std::int64_t> highest;
    for (const SupplyCase& one : supply_cases(release_, in_)) {
      if (one.report) {
        const std::int64_t low = at_device(one, "device-low-uv", supply::Phase::verify_low);
        const std::int64_t high = at_device(one, "device-high-uv", supply::Phase::verify_high);
        lowest = std::min(lowest.value_or(low), low);
        highest = std::max(highest.value_or(high), high);
      }
    }
    const profile::DeviceSupply& device = in_.device.supply;
    if (lowest && *lowest < std::int64_t{device.verify_low_mv} * 1000) {
      tell_beyond(limits().low_mv, *lowest, "below", device.verify_low_mv);
    }
    if (highest && *highest > std::int64_t{device.verify_high_mv} * 1000) {
      tell_beyond(limits().high_mv, *highest, "above", device.verify_high_mv);
    }
  }

  static std::int64_t at_device(const SupplyCase& one, std::string_view id, supply::Phase phase) {
    const supply::Quantity* found = supply::find(one.report->sheet, id, phase);
    return found == nullptr ? 0 : found->value.value_or(0);
  }

  void tell_beyond(std::uint32_t set_mv, std::int64_t uv, const char* side, std::uint32_t limit) {
    add(rules::verify_beyond,
        fmt::format("verify at {} mV can be {} mV at {}, {} the {} mV at which it must read right",
                    set_mv, spell_thousandths(uv), in_.device.id, side, limit),
        "state a supply to verify at that leaves room for tolerances and cable");
  }

  const ReleaseFile& release_;
  const Inputs& in_;
  Findings& findings_;
};

} // namespace

void check_verify(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  VerifyCheck(release, in, findings).run();
}

} // namespace cardseal::job
