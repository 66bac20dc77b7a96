// Do release, profiles and documents belong together, and can a package hold them?
#include <fmt/format.h>

#include "format/facts.h"
#include "job/checks.h"
#include "job/rules.h"

namespace cardseal::job {
namespace {

void check_board(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  if (in.board.device != in.device.id) {
    findings.add(rules::board_device,
                 fmt::format("{} carries {}, the release is for {}", in.board.id, in.board.device,
                             in.device.id),
                 in.board.place, "name the profile of the board's own device");
  }
  if (in.board.product != release.product) {
    findings.add(rules::board_product,
                 fmt::format("{} is a board of {}, the release is for {}", in.board.id,
                             in.board.product, release.product),
                 in.board.place, "name the profile of the product's own board");
  }
  if (!in.device.device_id) {
    findings.add(rules::device_id_missing,
                 fmt::format("{} has no device ID: 0 bytes of 1 to 8 are compared", in.device.id),
                 in.device.place, "add <device-id> if the device can answer one");
  }
}

// Stations compare the ID under its mask, which leaves the revision out.
void check_revisions(const Inputs& in, Findings& findings) {
  std::string barred;
  for (const profile::Silicon& silicon :
       in.device.device_id ? in.device.device_id->revisions : std::vector<profile::Silicon>{}) {
    if (!silicon.allowed) {
      barred += fmt::format("{}{}", barred.empty() ? "" : ", ", silicon.title);
    }
  }
  if (!barred.empty()) {
    findings.add(rules::revision_barred,
                 fmt::format("{} of revision {} may not be used; stations don't look at it",
                             in.device.id, barred),
                 in.device.device_id->place,
                 "have incoming devices looked at before they are placed");
  }
}

// "slot 7", or "slots 7, 8".
std::string spell_slots(std::uint32_t mask) {
  std::string out;
  std::uint32_t count = 0;
  for (std::uint32_t slot = 1; slot <= 32; ++slot) {
    if ((mask >> (slot - 1) & 1U) != 0) {
      out += fmt::format("{}{}", count++ == 0 ? "" : ", ", slot);
    }
  }
  return (count == 1 ? "slot " : "slots ") + out;
}

std::uint32_t mask_of(const profile::Station& station) {
  return static_cast<std::uint32_t>((std::uint64_t{1} << station.slots) - 1);
}

void check_shown_sum(const ReleaseFile& release, const Inputs& in, const profile::Station& station,
                     Findings& findings) {
  if (!station.plain_file || !station.plain_file->checksum) {
    return;
  }
  const profile::ShownChecksum& shown = *station.plain_file->checksum;
  if (shown.after_serial && release.serial) {
    findings.add(rules::sum_not_comparable,
                 fmt::format("{} shows {} after the serial is merged: {} units, as many values",
                             station.id, shown.algorithm, release.serial->numbers.capacity),
                 shown.place, "compare the file on the card instead, with card verify");
  } else if (shown.algorithm == "device-sum-16" && !in.device.sum) {
    findings.add(rules::sum_not_comparable,
                 fmt::format("{} shows the device's own checksum, the profile of {} has 0 of them",
                             station.id, in.device.id),
                 shown.place, "add <device-sum> to the device's profile");
  }
}

void check_station(const ReleaseFile& release, const Inputs& in, std::size_t index,
                   Findings& findings) {
  const profile::Station& station = in.stations[index];
  const Place& place = release.stations[index].place;
  if (const std::uint32_t missing = release.slots.mask & ~mask_of(station); missing != 0) {
    findings.add(
        rules::slot_missing,
        fmt::format("{} permitted, {} has {}", spell_slots(missing), station.id,
                    station.slots == 1 ? "slot 1" : fmt::format("slots 1 to {}", station.slots)),
        release.slots.place, "permit only slots that every named station has");
  }
  if (station.reads == profile::Reads::plain_file && !release.settings.plain_file) {
    findings.add(
        rules::plain_file_forbidden,
        fmt::format("{} reads only plain files, the release states plain-file no", station.id),
        place, "leave the station out, or state plain-file=\"yes\": it checks nothing");
  }
  check_shown_sum(release, in, station, findings);
  for (std::size_t before = 0; before < index; ++before) {
    if (in.stations[before].id == station.id) {
      findings.add(rules::model_twice,
                   fmt::format("{} and {} are both of {}", release.stations[before].file,
                               release.stations[index].file, station.id),
                   place, "leave one of the two out, or give the model its own id");
    }
  }
}

void limit(const std::string& what, std::uint64_t found, std::uint64_t most, const Place& place,
           const char* hint, Findings& findings) {
  if (found > most) {
    findings.add(rules::format_limit,
                 fmt::format("{}: {}, a package holds at most {}", what, found, most), place, hint);
  }
}

void check_station_limits(const profile::Station& station, Findings& findings) {
  limit("sectors a cluster of " + station.id, station.card.cluster_sectors, 64, station.card.place,
        "state 64 or fewer", findings);
  limit("sectors of the card of " + station.id, station.card.max_sectors, 4'194'304,
        station.card.place, "state a smaller card: 2 GiB or less", findings);
  limit("supply step in mV of " + station.id, station.supply.step_mv, 10'000, station.supply.place,
        "state one setting, or smaller steps", findings);
}

enum class Guards : bool { nothing, boards }; // does a wrong value let a board be damaged?

void check_source(const profile::Source& source, const char* values, const std::string& owner,
                  Findings& findings, Guards guards = Guards::nothing) {
  if (source.from_memory) {
    findings.add(guards == Guards::boards ? rules::limit_from_memory : rules::from_memory,
                 fmt::format("{} of {} from memory, not from a source", values, owner),
                 source.place, "look it up, and name where it stands");
  }
  if (source.to_fill_in) {
    findings.add(rules::to_fill_in,
                 fmt::format("{} of {}: still the template's example", values, owner), source.place,
                 "state your own values, and name where they stand as the source");
  }
}

std::size_t config_fields(const profile::Device& device) {
  std::size_t count = 0;
  if (device.configuration) {
    for (const profile::ConfigWord& word : device.configuration->words) {
      count += word.fields.size();
    }
  }
  return count;
}

void check_maybe(const std::optional<profile::Source>& source, const char* values,
                 const std::string& owner, Findings& findings) {
  if (source) {
    check_source(*source, values, owner, findings);
  }
}

} // namespace

void check_fit(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  check_board(release, in, findings);
  check_revisions(in, findings);
  for (std::size_t i = 0; i < in.stations.size(); ++i) {
    check_station(release, in, i, findings);
  }
  for (std::size_t i = 0; i < in.documents.size(); ++i) {
    if (in.documents[i].content.empty()) {
      findings.add(
          rules::document_empty,
          fmt::format("document {} has 0 bytes, at least 1 is needed", in.documents[i].name),
          release.documents[i].place, "write it, or leave it out");
    }
  }
}

void check_limits(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  limit("segments of the firmware", in.firmware.firmware.image.segments().size(),
        decltype(format::Manifest::segments)::capacity(), release.firmware.place,
        "fill the small gaps when the firmware is built", findings);
  limit("bytes of the firmware file's name", file_name(release.firmware.file).size(),
        sizeof format::Facts::firmware_name.bytes, release.firmware.place,
        "give the file a shorter name", findings);
  limit("configuration fields of " + in.device.id, config_fields(in.device),
        decltype(format::Facts::config_fields)::capacity(), in.device.place,
        "join fields whose values people need not tell apart", findings);
  for (const profile::Station& station : in.stations) {
    check_station_limits(station, findings);
  }
}

void check_sources(const Inputs& in, Findings& findings) {
  const profile::Device& device = in.device;
  check_source(device.regions_source, "regions", device.id, findings);
  if (device.device_id) {
    check_source(device.device_id->source, "device ID", device.id, findings);
  }
  check_source(device.reset.source, "reset vector", device.id, findings);
  check_maybe(device.kept_source, "kept locations", device.id, findings);
  if (device.configuration) {
    check_source(device.configuration->source, "configuration", device.id, findings);
  }
  if (device.sum) {
    check_source(device.sum->source, "checksum", device.id, findings);
  }
  check_source(device.supply.source, "supply", device.id, findings, Guards::boards);
  check_maybe(device.entries_source, "entries", device.id, findings);
  check_maybe(device.locks_source, "locks", device.id, findings);
  if (device.times) {
    check_source(device.times->source, "times", device.id, findings);
  }
  check_source(in.board.supply.source, "supply", in.board.id, findings, Guards::boards);
  check_source(in.board.load.source, "load", in.board.id, findings);
  check_source(in.board.cable.source, "cable", in.board.id, findings);
  check_source(in.board.contacts.source, "contacts", in.board.id, findings);
  check_source(in.board.signals.source, "signals", in.board.id, findings, Guards::boards);
  check_maybe(in.board.clocks_source, "clocks", in.board.id, findings);
  for (const profile::Station& station : in.stations) {
    check_source(station.supply.source, "supply", station.id, findings, Guards::boards);
    check_source(station.current.source, "current", station.id, findings);
    check_source(station.switching.source, "switching", station.id, findings);
    check_source(station.signals.source, "signals", station.id, findings, Guards::boards);
    check_source(station.abilities.source, "abilities", station.id, findings);
    check_source(station.work.source, "work", station.id, findings);
    check_maybe(station.entries_source, "entries", station.id, findings);
    if (station.plain_file) {
      check_source(station.plain_file->source, "plain file", station.id, findings);
    }
    check_source(station.card.source, "card", station.id, findings);
  }
}

} // namespace cardseal::job
