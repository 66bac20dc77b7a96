// Will stations and people get what the release means: the bytes, the title, the number on the
// label?
#include <fmt/format.h>

#include "image/spell.h"
#include "job/checks.h"
#include "job/rules.h"

namespace cardseal::job {
namespace {

// What a plain file leaves out keeps what the station loaded before.
void check_buffer(const ReleaseFile& release, const Inputs& in, std::size_t index,
                  Findings& findings) {
  const profile::Station& station = in.stations[index];
  if (station.work.clears_buffer || station.reads != profile::Reads::plain_file) {
    return;
  }
  for (const profile::Region& region : in.device.regions) {
    const std::uint64_t held = bytes_in(in.firmware.firmware.image, region);
    if (held != 0 && held != region.size) {
      findings.add(rules::buffer_keeps,
                   fmt::format("{} does not clear its buffer; firmware gives {} of the {} of {}",
                               station.id, held, image::spell_count(region.size, "byte"),
                               region.id),
                   release.stations[index].place,
                   "fill the region when the firmware is built, or have the buffer cleared by hand "
                   "before each job");
    }
  }
}

void check_title(const ReleaseFile& release, const Inputs& in, std::size_t index,
                 Findings& findings) {
  const profile::Station& station = in.stations[index];
  if (release.title.size() > station.work.text_columns) {
    findings.add(rules::title_cut,
                 fmt::format("title has {} characters, {} shows {}: {}", release.title.size(),
                             station.id, station.work.text_columns,
                             release.title.substr(0, station.work.text_columns)),
                 release.place, "put what tells releases apart first, or shorten the title");
  }
}

void check_label(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  if (release.serial && in.board.label_characters &&
      release.serial->text_length() > *in.board.label_characters) {
    findings.add(
        rules::label_short,
        fmt::format("serial texts of {} have {} characters, the label of {} has room for {}",
                    release.serial->numbers.id.view(), release.serial->text_length(), in.board.id,
                    *in.board.label_characters),
        release.serial->place, "shorten the text, or have a larger label");
  }
}

// The firmware would find its own sum wrong in every unit.
void check_own_sums(const ReleaseFile& release, Findings& findings) {
  for (const serial::Placement& placement :
       release.serial ? release.serial->placements : std::vector<serial::Placement>{}) {
    for (const OwnSum& sum : release.own_sums) {
      const std::uint64_t end = std::uint64_t{sum.address} + sum.length;
      if (placement.address < end && sum.address < placement.end()) {
        findings.add(rules::serial_in_sum,
                     fmt::format("serial takes {}, within {} that the firmware sums itself",
                                 spell_range(placement.address, placement.end()),
                                 spell_range(sum.address, end)),
                     placement.place,
                     "move the serial out of the range, or have the sum leave it out");
      }
    }
  }
}

} // namespace

void check_work(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  for (std::size_t i = 0; i < in.stations.size(); ++i) {
    check_buffer(release, in, i, findings);
    check_title(release, in, i, findings);
  }
  check_label(release, in, findings);
  check_own_sums(release, findings);
}

} // namespace cardseal::job
