#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "image/spell.h"
#include "job/checks.h"
#include "job/rules.h"

namespace cardseal::job {
namespace {

void check_digest(const ReleaseFile& release, const image::Loaded& firmware, Findings& findings) {
  if (firmware.file_digest != release.firmware.sha256) {
    findings.add(rules::firmware_digest,
                 fmt::format("{} has SHA-256 {}, the release states {}",
                             file_name(release.firmware.file), crypto::hex(firmware.file_digest),
                             crypto::hex(release.firmware.sha256)),
                 release.firmware.place,
                 "put the approved file in its place, or have this one approved and state it");
  }
}

class OutsideDevice {
public:
  OutsideDevice(const Inputs& in, Findings& findings) : in_(in), findings_(findings) {
    for (const profile::Region& region : in.device.regions) {
      regions_.push_back(&region);
    }
    std::sort(regions_.begin(), regions_.end(),
              [](const auto* a, const auto* b) { return a->address < b->address; });
  }

  // Regions don't overlap: what lies between them is outside.
  void check(const image::Segment& segment) {
    std::uint64_t from = segment.address;
    for (const profile::Region* region : regions_) {
      if (region->end() <= from) {
        continue;
      }
      if (region->address >= segment.end()) {
        break;
      }
      report(from, region->address);
      from = region->end();
    }
    report(from, segment.end());
  }

private:
  void report(std::uint64_t from, std::uint64_t end) {
    if (from >= end) {
      return;
    }
    Place place{in_.firmware.file, 0, 0, {}};
    if (const auto origin = in_.firmware.firmware.image.origin(from)) {
      place.line = origin->line;
    }
    findings_.add(rules::firmware_outside,
                  fmt::format("firmware has {} at {}; {} has {}",
                              image::spell_count(end - from, "byte"), spell_range(from, end),
                              in_.device.id, spell_regions(in_.device)),
                  std::move(place), "link the firmware for this device, or correct its profile");
  }

  const Inputs& in_;
  Findings& findings_;
  std::vector<const profile::Region*> regions_;
};

void carry_notes(const image::Loaded& firmware, Findings& findings) {
  for (const image::Note& note : firmware.firmware.notes.all()) {
    if (note.id == image::note::no_data) {
      continue; // refused by a rule of its own
    }
    findings.add(rules::firmware_note,
                 fmt::format("{}: {} in the firmware file, first in line {}{}{}", note.id,
                             note.count, note.line, note.detail.empty() ? "" : ", ", note.detail),
                 {firmware.file, note.line, 0, {}},
                 "the image is not changed by it; look whether the file is what you expect");
  }
}

} // namespace

std::string spell_range(std::uint64_t from, std::uint64_t end) {
  if (end - from == 1) {
    return image::spell_address(from);
  }
  return fmt::format("{} to {}", image::spell_address(from), image::spell_address(end - 1));
}

std::string spell_regions(const profile::Device& device) {
  std::string out;
  for (const profile::Region& region : device.regions) {
    out += fmt::format("{}{} {}", out.empty() ? "" : ", ", region.id,
                       spell_range(region.address, region.end()));
  }
  return out;
}

std::string file_name(const std::string& path) {
  return path.substr(path.rfind('/') + 1);
}

void check_firmware(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  check_digest(release, in.firmware, findings);
  const image::SparseImage& image = in.firmware.firmware.image;
  if (image.empty()) {
    findings.add(rules::firmware_no_data,
                 fmt::format("{} has {} of file and 0 of data", file_name(release.firmware.file),
                             image::spell_count(in.firmware.file_size, "byte")),
                 release.firmware.place, "look at what the build wrote");
  }
  OutsideDevice outside(in, findings);
  for (const image::Segment& segment : image.segments()) {
    outside.check(segment);
  }
  carry_notes(in.firmware, findings);
}

} // namespace cardseal::job
