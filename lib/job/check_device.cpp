// Does the firmware fit what the device is: its words, where it begins to run, what its maker
// wrote, what it programs at once?
#include <algorithm>
#include <iterator>

#include <fmt/format.h>

#include "image/spell.h"
#include "job/checks.h"
#include "job/config_words.h"
#include "job/rules.h"

namespace cardseal::job {
namespace {

using image::spell_count;

std::string spell_bytes(const std::vector<std::uint8_t>& bytes) {
  std::string out;
  for (const std::uint8_t byte : bytes) {
    out += fmt::format("{:02x}", byte);
  }
  return out;
}

// The part of a segment inside a region; length 0 when there is none.
image::Segment inside(const image::Segment& segment, const profile::Region& region) {
  const std::uint64_t from = std::max<std::uint64_t>(segment.address, region.address);
  const std::uint64_t end = std::min(segment.end(), region.end());
  return {from, from < end ? end - from : 0};
}

bool matches(const profile::DeviceId& id, const std::vector<std::uint8_t>& stated) {
  if (stated.size() != id.value.size()) {
    return false;
  }
  for (std::size_t i = 0; i < stated.size(); ++i) {
    if ((stated[i] & id.mask[i]) != id.value[i]) {
      return false;
    }
  }
  return true;
}

void check_stated_id(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  if (!in.stated_id.empty() && !matches(*in.device.device_id, in.stated_id)) {
    findings.add(rules::other_device,
                 fmt::format("firmware states device ID {}, {} answers {}",
                             spell_bytes(in.stated_id), in.device.id,
                             spell_bytes(in.device.device_id->value)),
                 release.firmware.place, "build it for this device, or name the other's profile");
  }
}

void check_reset(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  const profile::ResetVector& reset = in.device.reset;
  const profile::Region* region = in.device.region_at(reset.address);
  std::uint32_t present = 0;
  std::uint32_t written = 0;
  for (std::uint32_t i = 0; i < reset.length; ++i) {
    const std::uint64_t at = std::uint64_t{reset.address} + i;
    if (const auto byte = in.firmware.firmware.image.at(at)) {
      ++present;
      written += *byte != region->erased_byte(at) ? 1 : 0;
    }
  }
  const std::string where =
      spell_place(in.device, reset.address, std::uint64_t{reset.address} + reset.length);
  if (present < reset.length) {
    findings.add(rules::reset_vector,
                 fmt::format("firmware holds {} of the {} at {}, where {} begins to run", present,
                             spell_count(reset.length, "byte"), where, in.device.id),
                 release.firmware.place, "look whether a part of the firmware is missing");
  } else if (written == 0) {
    findings.add(rules::reset_vector,
                 fmt::format("firmware holds {} at {}, where {} begins to run, all of them erased",
                             spell_count(present, "byte"), where, in.device.id),
                 release.firmware.place, "look whether a part of the firmware is missing");
  }
}

// Bits above a word's width: a converter's mistake, or firmware of another part.
void check_words(const Inputs& in, const profile::Region& region, Findings& findings) {
  if (region.word_bits == region.word_bytes() * 8) {
    return;
  }
  std::uint64_t count = 0;
  std::uint64_t first = 0;
  for (const image::Segment& segment : in.firmware.firmware.image.segments()) {
    const image::Segment part = inside(segment, region);
    for (std::uint64_t at = part.address; at < part.end(); ++at) {
      const std::uint64_t in_word = (at - region.address) % region.word_bytes();
      const std::uint32_t lacking = ~(region.word_mask() >> (8 * in_word)) & 0xFFU;
      if ((*in.firmware.firmware.image.at(at) & lacking) != 0 && count++ == 0) {
        first = at;
      }
    }
  }
  if (count != 0) {
    findings.add(rules::word_bits,
                 fmt::format("firmware holds {} at {}, the first of {} with bits that words of {} "
                             "bits in {} lack",
                             image::spell_byte(*in.firmware.firmware.image.at(first)),
                             spell_place(in.device, first, first + 1), spell_count(count, "byte"),
                             region.word_bits, region.id),
                 firmware_place(in, first), "build it for this device; phantom bits are 0");
  }
}

// Units that can only be programmed together, of which the image gives some bytes but not all.
class PartUnits {
public:
  struct Unit {
    std::uint64_t number = 0;
    std::uint64_t bytes = 0;
    bool hole = false; // bytes are absent that others follow
  };

  // `segments` in rising order, none touching the next.
  PartUnits(const std::vector<image::Segment>& segments, const profile::Region& region)
      : unit_(region.together()) {
    for (const image::Segment& segment : segments) {
      if (const image::Segment part = inside(segment, region); part.length != 0) {
        take(part.address - region.address, part.end() - region.address);
      }
    }
    std::erase_if(units_, [&](const Unit& one) { return one.bytes == unit_; });
  }

  std::vector<Unit> with(bool hole) const {
    std::vector<Unit> out;
    std::copy_if(units_.begin(), units_.end(), std::back_inserter(out),
                 [&](const Unit& one) { return one.hole == hole; });
    return out;
  }

private:
  // Units between the first and the last one of a run are whole.
  void take(std::uint64_t from, std::uint64_t end) {
    const std::uint64_t last = (end - 1) / unit_;
    add(from, std::min(end, (from / unit_ + 1) * unit_));
    if (last != from / unit_) {
      add(last * unit_, end);
    }
  }
  // Runs never touch: what begins behind a unit's start has nothing just before it.
  void add(std::uint64_t from, std::uint64_t end) {
    if (units_.empty() || units_.back().number != from / unit_) {
      units_.push_back({from / unit_, 0, false});
    }
    units_.back().bytes += end - from;
    units_.back().hole |= from % unit_ != 0;
  }

  std::uint64_t unit_;
  std::vector<Unit> units_;
};

// What a unit gets: the firmware, and the places of its serial number.
std::vector<image::Segment> programmed(const ReleaseFile& release, const Inputs& in) {
  std::vector<image::Segment> all = in.firmware.firmware.image.segments();
  for (const serial::Placement& placement :
       release.serial ? release.serial->placements : std::vector<serial::Placement>{}) {
    all.push_back({placement.address, placement.length});
  }
  std::sort(all.begin(), all.end(),
            [](const auto& a, const auto& b) { return a.address < b.address; });
  std::vector<image::Segment> out;
  for (const image::Segment& each : all) {
    if (!out.empty() && each.address <= out.back().end()) {
      out.back().length = std::max(out.back().end(), each.end()) - out.back().address;
    } else {
      out.push_back(each);
    }
  }
  return out;
}

// A unit with nothing but a serial number is judged by the rules of serials.
bool holds_firmware(const Inputs& in, const profile::Region& region, std::uint64_t number) {
  const std::uint64_t first = region.address + number * region.together();
  for (std::uint64_t at = first; at < first + region.together(); ++at) {
    if (in.firmware.firmware.image.at(at)) {
      return true;
    }
  }
  return false;
}

void add_units(const Inputs& in, const profile::Region& region, const Rule& rule,
               const std::vector<PartUnits::Unit>& units, Findings& findings) {
  if (units.empty()) {
    return;
  }
  const std::uint64_t unit = region.together();
  std::uint64_t absent = 0;
  for (const PartUnits::Unit& one : units) {
    absent += unit - one.bytes;
  }
  const std::uint64_t first = region.address + units.front().number * unit;
  std::uint64_t there = first;
  while (!in.firmware.firmware.image.at(there)) { // a unit in the list holds a byte
    ++there;
  }
  const bool hole = units.front().hole;
  const char* const called = unit > region.write_unit ? "ECC word" : "write unit";
  findings.add(rule,
               fmt::format("firmware gives {} of {} in {} {} and leaves {} out, first in {}",
                           spell_count(units.size(), called), spell_count(unit, "byte"), region.id,
                           hole ? "with a hole" : "in part", spell_count(absent, "byte"),
                           spell_place(in.device, first, first + unit)),
               firmware_place(in, there),
               hole ? "look whether a part of the firmware is missing, or have the build fill gaps"
                    : "a station programs erased bytes there");
}

void check_units(const ReleaseFile& release, const Inputs& in, const profile::Region& region,
                 Findings& findings) {
  const PartUnits part(programmed(release, in), region);
  for (const bool hole : {true, false}) {
    std::vector<PartUnits::Unit> units = part.with(hole);
    std::erase_if(units, [&](const auto& one) { return !holds_firmware(in, region, one.number); });
    add_units(in, region, hole ? rules::write_hole : rules::write_units, units, findings);
  }
}

struct Claim { // of the firmware or of a serial number on a place
  std::string by;
  std::uint64_t bytes = 0;
  std::uint64_t first = 0;
  Place place;
};

void add_kept(const Inputs& in, const profile::KeptLocation& kept, const Claim& claim,
              Findings& findings) {
  findings.add(
      rules::kept_touched,
      fmt::format("{} has {} from {} in {} at {}, where the maker of {} wrote: {}", claim.by,
                  spell_count(claim.bytes, "byte"), image::spell_address(claim.first), kept.region,
                  spell_place(in.device, kept.address, kept.end()), in.device.id, kept.meaning),
      claim.place, "keep the place free");
}

void check_kept(const ReleaseFile& release, const Inputs& in, const profile::KeptLocation& kept,
                Findings& findings) {
  Claim claim{"firmware", 0, 0, {}};
  for (const image::Segment& segment : in.firmware.firmware.image.segments()) {
    const std::uint64_t from = std::max<std::uint64_t>(segment.address, kept.address);
    const std::uint64_t end = std::min(segment.end(), kept.end());
    if (from < end) {
      claim.first = claim.bytes == 0 ? from : claim.first;
      claim.bytes += end - from;
    }
  }
  if (claim.bytes != 0) {
    claim.place = firmware_place(in, claim.first);
    add_kept(in, kept, claim, findings);
  }
  for (const serial::Placement& placement :
       release.serial ? release.serial->placements : std::vector<serial::Placement>{}) {
    const std::uint64_t from = std::max(placement.address, kept.address);
    const std::uint64_t end = std::min(placement.end(), kept.end());
    if (from < end) {
      add_kept(in, kept, {"serial", end - from, from, placement.place}, findings);
    }
  }
}

void check_over_erase(const ReleaseFile& release, const Inputs& in,
                      const profile::KeptLocation& kept, Findings& findings) {
  if (release.settings.erase == format::Erase::chip &&
      kept.over_erase == profile::OverErase::save_and_restore) {
    findings.add(
        rules::kept_over_erase,
        fmt::format("erase chip takes {} at {} in {} away: {}", spell_count(kept.length, "byte"),
                    spell_place(in.device, kept.address, kept.end()), kept.region, kept.meaning),
        release.settings.place, "compare them before and after on the first boards");
  }
}

} // namespace

void check_device(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  check_stated_id(release, in, findings);
  check_reset(release, in, findings);
  for (const profile::Region& region : in.device.regions) {
    check_words(in, region, findings);
    check_units(release, in, region, findings);
  }
  for (const profile::KeptLocation& kept : in.device.kept) {
    check_kept(release, in, kept, findings);
    check_over_erase(release, in, kept, findings);
  }
}

} // namespace cardseal::job
