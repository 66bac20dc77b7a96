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

void check_image_digest(const ReleaseFile& release, const crypto::Digest& digest,
                        Findings& findings) {
  if (!release.firmware.image_sha256) {
    return;
  }
  if (digest != *release.firmware.image_sha256) {
    findings.add(rules::image_digest,
                 fmt::format("bytes of {} have SHA-256 {}, the release states {}",
                             file_name(release.firmware.file), crypto::hex(digest),
                             crypto::hex(*release.firmware.image_sha256)),
                 release.firmware.place,
                 "compare with cardseal image; ask who built it which of the two was approved");
  }
}

bool holds(const image::SparseImage& image, std::uint64_t address, std::string_view text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (image.at(address + i) != static_cast<std::uint8_t>(text[i])) {
      return false;
    }
  }
  return true;
}

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}
bool is_letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

// Does a version go on behind its end, as 2.4.1 does in 2.4.15, 2.4.1b and 2.4.1.7?
bool goes_on(std::string_view behind) {
  return !behind.empty() && (is_digit(behind[0]) || is_letter(behind[0]) ||
                             (behind[0] == '.' && behind.size() > 1 && is_digit(behind[1])));
}

// "2.4.1" stands in "V2.4.1", but not in "12.4.1" or "1.2.4.1".
bool holds_version(std::string_view text, std::string_view version) {
  for (std::size_t at = text.find(version); at != std::string_view::npos;
       at = text.find(version, at + 1)) {
    const char before = at == 0 ? ' ' : text[at - 1];
    const bool within = is_digit(version[0]) ? is_digit(before) || before == '.'
                                             : is_letter(version[0]) && is_letter(before);
    if (!within && !goes_on(text.substr(at + version.size()))) {
      return true;
    }
  }
  return false;
}

// What stands there, as text: '-' for an absent byte, '?' for one that can't be shown.
std::string text_at(const image::SparseImage& image, std::uint64_t address, std::size_t length) {
  std::string out;
  for (std::size_t i = 0; i < length; ++i) {
    const auto byte = image.at(address + i);
    const bool shown = byte && *byte >= 0x20 && *byte < 0x7F && *byte != '"' && *byte != '\\';
    out += !byte ? '-' : shown ? static_cast<char>(*byte) : '?';
  }
  return out;
}

void check_version_text(const ReleaseFile& release, const image::SparseImage& image,
                        Findings& findings) {
  if (!release.version_text) {
    return;
  }
  const VersionText& wanted = *release.version_text;
  const std::string behind = text_at(image, wanted.address + wanted.text.size(), 2);
  const bool longer = goes_on(behind);
  if (!holds(image, wanted.address, wanted.text) || longer) {
    findings.add(rules::version_text,
                 fmt::format("firmware holds {} at {}, the release declares {}",
                             text_at(image, wanted.address, wanted.text.size() + (longer ? 2 : 0)),
                             image::spell_address(wanted.address), wanted.text),
                 wanted.place, "look whether it is the right file, and where its version stands");
  }
  if (!holds_version(wanted.text, release.version)) {
    findings.add(rules::version_text,
                 fmt::format("declared text {} does not hold the release's version {}", wanted.text,
                             release.version),
                 wanted.place, "state the text of this version");
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
    findings_.add(
        rules::firmware_outside,
        fmt::format("firmware has {} at {}; {} has {}", image::spell_count(end - from, "byte"),
                    spell_range(from, end), in_.device.id, spell_regions(in_.device)),
        firmware_place(in_, from), "link the firmware for this device, or correct its profile");
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
    if (note.id == image::note::missing_end) {
      findings.add(rules::firmware_end,
                   fmt::format("the file ends in line {}, with 0 end records", note.line),
                   {firmware.file, note.line, 0, {}},
                   "compare its last address with the build's map");
      continue;
    }
    findings.add(rules::firmware_note,
                 fmt::format("{}: {} in the firmware file, first in line {}{}{}", note.id,
                             note.count, note.line, note.detail.empty() ? "" : ", ", note.detail),
                 {firmware.file, note.line, 0, {}},
                 "the image is not changed by it; look whether the file is what you expect");
  }
}

} // namespace

Place firmware_place(const Inputs& in, std::uint64_t address) {
  Place place{in.firmware.file, 0, 0, {}};
  if (const auto origin = in.firmware.firmware.image.origin(address)) {
    place.line = origin->line;
  }
  return place;
}

std::string spell_range(std::uint64_t from, std::uint64_t end) {
  if (end - from == 1) {
    return image::spell_address(from);
  }
  return fmt::format("{} to {}", image::spell_address(from), image::spell_address(end - 1));
}

std::string spell_place(const profile::Device& device, std::uint64_t from, std::uint64_t end) {
  const profile::Region* region = device.region_at(from);
  const std::string range = spell_range(from, end);
  return region == nullptr || region->address_unit == 1
             ? range
             : fmt::format("{} ({} in the device)", range,
                           image::spell_address(region->device_address(from)));
}

std::string spell_regions(const profile::Device& device) {
  std::string out;
  for (const profile::Region& region : device.regions) {
    out += fmt::format("{}{} {}", out.empty() ? "" : ", ", region.id,
                       spell_range(region.address, region.end()));
  }
  return out;
}

std::uint64_t bytes_in(const image::SparseImage& image, const profile::Region& region) {
  std::uint64_t bytes = 0;
  for (const image::Segment& segment : image.segments()) {
    const std::uint64_t from = std::max<std::uint64_t>(segment.address, region.address);
    const std::uint64_t end = std::min(segment.end(), region.end());
    bytes += from < end ? end - from : 0;
  }
  return bytes;
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
  check_image_digest(release, in.image_digest, findings);
  check_version_text(release, image, findings);
  OutsideDevice outside(in, findings);
  for (const image::Segment& segment : image.segments()) {
    outside.check(segment);
  }
  carry_notes(in.firmware, findings);
}

} // namespace cardseal::job
