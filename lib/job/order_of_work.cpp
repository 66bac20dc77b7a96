// The order in which a station works on a board, and the reason of each step. A station that reads
// signed packages follows it; at others it is what their settings must amount to.
#include <algorithm>

#include <fmt/format.h>

#include "job/facts_supply.h"
#include "job/put.h"

namespace cardseal::job {
namespace {

class Steps {
public:
  explicit Steps(format::Facts& out) : out_(out) {}
  void add(std::string_view name, std::string_view reason) {
    out_.work_steps.add({static_cast<std::uint8_t>(out_.work_steps.count + 1),
                         put<format::Text<24>>(name), put<format::Text<120>>(reason)});
  }

private:
  format::Facts& out_;
};

bool saves_kept(const profile::Device& device) {
  for (const profile::KeptLocation& kept : device.kept) {
    if (kept.over_erase == profile::OverErase::save_and_restore) {
      return true;
    }
  }
  return false;
}

bool writes_configuration(const ReleaseFile& release) {
  return release.device.configuration == format::Configuration::in_firmware;
}

// Stations compare under the mask; what it leaves out, people have to look at.
std::string_view device_id_reason(const profile::DeviceId& id) {
  return id.revisions.empty() ? "everything after this is for this device only"
                              : "everything after this is for this device only; its revision is "
                                "not compared";
}

void put_supply_on(const ReleaseFile& release, const Inputs& in, Steps& steps) {
  if (release.supply.source == format::SupplySource::board) {
    steps.add("board's supply on", "the board supplies itself; the station's own supply stays off");
    return;
  }
  const bool senses =
      std::all_of(in.stations.begin(), in.stations.end(), [](const profile::Station& station) {
        return station.supply.senses_foreign_voltage;
      });
  steps.add("foreign voltage check",
            senses ? "a board that is supplied already would be supplied twice and damaged"
                   : "a board supplied already would be damaged; by meter where the station senses "
                     "none itself");
  steps.add("supply on", "under the current limit, so that a short or a board put in wrongly does "
                         "no harm");
}

void put_erase(const ReleaseFile& release, const Inputs& in, Steps& steps) {
  const bool erases = release.settings.erase == format::Erase::chip;
  if (erases && saves_kept(in.device)) {
    steps.add("save kept words", "the erase takes what the device's maker wrote; checked before it "
                                 "does");
  }
  if (erases) {
    steps.add("erase", "what was in the device before, and its lock, must not remain");
  }
  if (erases && saves_kept(in.device)) {
    steps.add("restore kept words", "before anything else is written, so that a break loses them "
                                    "at no other place");
  }
  if (release.settings.blank_check) {
    steps.add("blank check", "bits that stay programmed would spoil what is written over them");
  }
}

std::string volts(std::uint32_t mv) {
  return fmt::format("{}.{:03} V", mv / 1000, mv % 1000);
}

void put_verify(const ReleaseFile& release, Steps& steps) {
  if (release.settings.verify == format::Verify::nominal) {
    steps.add("verify", "read back and compared, serial included, while reading is still allowed");
  }
  if (!release.supply.verify) {
    return;
  }
  const format::VerifyLimits& limits = *release.supply.verify;
  steps.add("verify at " + volts(limits.low_mv),
            "the supply falls to it first; read back and compared, serial included");
  steps.add("verify at " + volts(limits.high_mv),
            "and once more: a weak cell reads right at one of the two only");
  if (writes_configuration(release) || release.settings.lock != format::Lock::none) {
    steps.add("supply back at " + volts(release.supply.supply_mv),
              "what is still to be written is written at the supply of the job");
  }
}

} // namespace

void put_work_steps(const ReleaseFile& release, const Inputs& in, format::Facts& out) {
  Steps steps(out);
  put_supply_on(release, in, steps);
  if (in.device.device_id) {
    steps.add("device ID", device_id_reason(*in.device.device_id));
  }
  put_erase(release, in, steps);
  steps.add("program", release.serial ? "with the unit's serial merged first, so that no unit of "
                                        "writing is written twice"
                                      : "the image, the same for each unit");
  put_verify(release, steps);
  if (writes_configuration(release)) {
    steps.add("configuration", "after verifying, since some of its bits end access or change the "
                               "clock");
    steps.add("power cycle", "the device takes its configuration over when it starts");
  }
  if (release.settings.lock != format::Lock::none) {
    steps.add("lock", "last of all that is written: a locked device can't be verified any more");
    steps.add("check of the lock", "a read that must fail");
  }
  steps.add("supply off", release.supply.source == format::SupplySource::board
                              ? "at the board, before it is taken off"
                              : "discharged before it is taken off");
}

} // namespace cardseal::job
