// Can each named station do what the job asks of it, and does it notice what would do harm?
#include <fmt/format.h>

#include "job/checks.h"
#include "job/rules.h"

namespace cardseal::job {
namespace {

void check_verify_ability(const ReleaseFile& release, const profile::Station& station,
                          const Place& place, Findings& findings) {
  if (release.supply.verify && !station.abilities.verifies_low_high) {
    findings.add(rules::verify_not_by_station,
                 fmt::format("verify at {} and {} mV, {} verifies at one supply only",
                             release.supply.verify->low_mv, release.supply.verify->high_mv,
                             station.id),
                 place, "leave the station out, or state verify=\"nominal\"");
  }
}

void check_own_supply(const ReleaseFile& release, const Inputs& in, const profile::Station& station,
                      const Place& place, Findings& findings) {
  if (release.supply.source == format::SupplySource::board) {
    if (!station.abilities.works_own_supply) {
      findings.add(
          rules::own_not_by_station,
          fmt::format("{} makes its {} mV by itself, {} can't work with its own supply off",
                      in.board.id, release.supply.supply_mv, station.id),
          place, "leave the station out");
    } else if (station.signals.follow_supply && !station.supply.senses_foreign_voltage) {
      findings.add(rules::own_not_by_station,
                   fmt::format("lines of {} would follow the {} mV of {}, which it does not sense",
                               station.id, release.supply.supply_mv, in.board.id),
                   place, "leave the station out, or correct its profile");
    }
  } else if (!station.supply.senses_foreign_voltage) {
    findings.add(rules::not_sensed,
                 fmt::format("{} gives its supply without looking whether {} has one already",
                             station.id, in.board.id),
                 place, "have each board's supply entry measured before it goes into a slot");
  }
}

void check_keeping(const ReleaseFile& release, const Inputs& in, const profile::Station& station,
                   const Place& place, Findings& findings) {
  if (release.settings.erase != format::Erase::chip || station.abilities.keeps_words) {
    return;
  }
  for (const profile::KeptLocation& kept : in.device.kept) {
    if (kept.over_erase == profile::OverErase::save_and_restore) {
      findings.add(rules::kept_not_by_station,
                   fmt::format("erase chip takes {} away, {} does not put it back: {}",
                               spell_place(in.device, kept.address, kept.end()), station.id,
                               kept.meaning),
                   place, "leave the station out; the value is lost in every unit otherwise");
    }
  }
}

void check_blank(const ReleaseFile& release, Findings& findings) {
  if (release.settings.erase == format::Erase::none && !release.settings.blank_check) {
    findings.add(rules::erase_none,
                 "erase none and blank-check no: 0 bytes are looked at before they are written",
                 release.settings.place, "state blank-check=\"yes\", or erase=\"chip\"");
  }
}

void check_panel(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  std::uint32_t placed = 0;
  for (const profile::PanelPlace& place : in.board.panel) {
    placed |= std::uint32_t{1} << (place.slot - 1);
  }
  for (std::uint32_t slot = 1; placed != 0 && slot <= 32; ++slot) {
    const std::uint32_t bit = std::uint32_t{1} << (slot - 1);
    if ((release.slots.mask & bit) != 0 && (placed & bit) == 0) {
      findings.add(rules::panel_missing,
                   fmt::format("slot {} is permitted, the panel of {} has {} positions and none "
                               "for it",
                               slot, in.board.id, in.board.panel.size()),
                   release.slots.place, "permit slots that work on a position only");
    }
  }
}

} // namespace

void check_abilities(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  for (std::size_t i = 0; i < in.stations.size(); ++i) {
    const Place& place = release.stations[i].place;
    check_verify_ability(release, in.stations[i], place, findings);
    check_own_supply(release, in, in.stations[i], place, findings);
    check_keeping(release, in, in.stations[i], place, findings);
  }
  check_blank(release, findings);
  check_panel(release, in, findings);
}

} // namespace cardseal::job
