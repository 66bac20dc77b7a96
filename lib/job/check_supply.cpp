// The supply that a release states, against device, board and stations. Plain comparisons: whether
// leads and regulators leave enough is another question.
#include <algorithm>

#include <fmt/format.h>

#include "job/checks.h"
#include "job/rules.h"

namespace cardseal::job {
namespace {

struct Limits { // of what a supply may be, with their owner's name
  std::uint32_t low_mv;
  std::uint32_t high_mv;
  std::string owner;
};

bool at_device(const Inputs& in) {
  return in.board.supply.entry == profile::SupplyEntry::at_device;
}

class SupplyCheck {
public:
  SupplyCheck(const ReleaseFile& release, const Inputs& in, Findings& findings)
      : supply_(release.supply), in_(in), findings_(findings), mv_(release.supply.supply_mv) {}

  void run() {
    check_sides();
    check_board();
    if (at_device(in_)) {
      check_device();
    } else {
      add(rules::behind_regulator,
          fmt::format("{} makes the supply of {} from {} mV by a regulator, which is not checked",
                      in_.board.id, in_.device.id, mv_),
          "compare the regulator's output with the device's data sheet");
    }
    if (supply_.source == format::SupplySource::station) {
      for (const profile::Station& station : in_.stations) {
        check_station(station);
        check_margin(station);
      }
    }
  }

private:
  void add(const Rule& rule, std::string text, std::string hint) {
    findings_.add(rule, std::move(text), supply_.place, std::move(hint));
  }

  void check_sides() {
    const profile::OwnSupply own = in_.board.supply.own;
    const bool by_station = supply_.source == format::SupplySource::station;
    if (by_station && own != profile::OwnSupply::none) {
      add(rules::both_supplies,
          fmt::format("the station would give {} mV while {} has a {} supply of its own", mv_,
                      in_.board.id, own == profile::OwnSupply::battery ? "battery" : "mains"),
          "state source=\"board\", or program the board without its own supply and say so in its "
          "profile");
    }
    if (!by_station && own == profile::OwnSupply::none) {
      add(rules::no_supply,
          fmt::format("the board should give {} mV, but {} has no supply of its own", mv_,
                      in_.board.id),
          "state source=\"station\", or correct the board's profile");
    }
  }

  void check_board() {
    const profile::BoardSupply& board = in_.board.supply;
    const std::string hint = fmt::format("state {} to {} mV, or correct the board's profile",
                                         board.min_mv, board.max_mv);
    if (mv_ > board.max_mv) {
      add(rules::above_board,
          fmt::format("supply of {} mV is above the {} mV that {} takes at most", mv_, board.max_mv,
                      in_.board.id),
          hint);
    } else if (mv_ < board.min_mv) {
      add(rules::below_board,
          fmt::format("supply of {} mV is below the {} mV that {} needs at least", mv_,
                      board.min_mv, in_.board.id),
          hint);
    }
  }

  void check_device() {
    const profile::DeviceSupply& device = in_.device.supply;
    if (check_absolute_max()) {
      return;
    }
    const bool works = mv_ >= device.operating_min_mv && mv_ <= device.operating_max_mv;
    const bool programs = mv_ >= device.program_min_mv && mv_ <= device.program_max_mv;
    if (!works) {
      add(rules::outside_operating,
          fmt::format("supply of {} mV is outside the {} to {} mV at which {} works", mv_,
                      device.operating_min_mv, device.operating_max_mv, in_.device.id),
          device_hint());
    } else if (!programs) {
      add(rules::outside_programming,
          fmt::format("supply of {} mV is outside the {} to {} mV at which {} is programmed", mv_,
                      device.program_min_mv, device.program_max_mv, in_.device.id),
          device_hint());
    }
  }

  std::string device_hint() const {
    return fmt::format("state {} to {} mV; the data sheet of {} decides",
                       in_.device.supply.program_min_mv, in_.device.supply.program_max_mv,
                       in_.device.id);
  }

  // The station that is furthest off decides: the device does not survive it even once.
  bool check_absolute_max() {
    std::uint32_t tolerance = 0;
    if (supply_.source == format::SupplySource::station) {
      for (const profile::Station& station : in_.stations) {
        tolerance = std::max(tolerance, station.supply.tolerance_mv);
      }
    }
    const std::uint32_t most = in_.device.supply.absolute_max_mv;
    if (mv_ + tolerance <= most) {
      return false;
    }
    const std::string with =
        tolerance == 0 ? "" : fmt::format(" with {} mV of station tolerance", tolerance);
    add(rules::absolute_max,
        fmt::format("supply of {} mV{} is above {} mV, which {} survives at most", mv_, with, most,
                    in_.device.id),
        device_hint());
    return true;
  }

  void check_station(const profile::Station& station) {
    const profile::StationSupply& supply = station.supply;
    if (mv_ < supply.min_mv || mv_ > supply.max_mv) {
      add(rules::outside_station,
          fmt::format("supply of {} mV is outside the {} to {} mV that {} gives", mv_,
                      supply.min_mv, supply.max_mv, station.id),
          "state another supply, or leave this station out");
      return;
    }
    const std::uint32_t above = (mv_ - supply.min_mv) % supply.step_mv;
    if (above != 0) {
      add(rules::off_step,
          fmt::format("supply of {} mV is no step of {}, which gives {} to {} mV by {} mV", mv_,
                      station.id, supply.min_mv, supply.max_mv, supply.step_mv),
          fmt::format("nearest are {} and {} mV", mv_ - above, mv_ - above + supply.step_mv));
    }
  }

  // Only for a set value that is within the limits itself; else it is refused already.
  void check_margin(const profile::Station& station) {
    margin_to({in_.board.supply.min_mv, in_.board.supply.max_mv, in_.board.id}, station);
    if (at_device(in_)) {
      margin_to({in_.device.supply.program_min_mv, in_.device.supply.program_max_mv, in_.device.id},
                station);
    }
  }

  void margin_to(const Limits& limits, const profile::Station& station) {
    const std::uint32_t tolerance = station.supply.tolerance_mv;
    if (mv_ < limits.low_mv || mv_ > limits.high_mv) {
      return;
    }
    if (mv_ + tolerance > limits.high_mv) {
      add(rules::supply_margin,
          fmt::format("supply of {} mV and {} mV tolerance of {} can reach {} mV, above {} mV of "
                      "{}",
                      mv_, tolerance, station.id, mv_ + tolerance, limits.high_mv, limits.owner),
          "state less, or measure at the socket");
    }
    if (mv_ < limits.low_mv + tolerance) {
      add(rules::supply_margin,
          fmt::format("supply of {} mV and {} mV tolerance of {} can fall to {} mV, below {} mV "
                      "of {}",
                      mv_, tolerance, station.id, mv_ > tolerance ? mv_ - tolerance : 0,
                      limits.low_mv, limits.owner),
          "state more, or measure at the socket");
    }
  }

  const SupplyWanted& supply_;
  const Inputs& in_;
  Findings& findings_;
  std::uint32_t mv_;
};

} // namespace

void check_supply(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  SupplyCheck(release, in, findings).run();
}

} // namespace cardseal::job
