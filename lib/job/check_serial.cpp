#include <fmt/format.h>

#include "image/spell.h"
#include "job/checks.h"
#include "job/rules.h"

namespace cardseal::job {
namespace {

struct Held { // what the firmware has where a serial goes
  std::uint32_t present = 0;
  std::uint32_t not_erased = 0;
  std::uint64_t first = 0; // address of the first byte that is not erased
};

Held held(const image::SparseImage& image, const serial::Placement& placement,
          const profile::Region& region) {
  Held out;
  for (std::uint32_t i = 0; i < placement.length; ++i) {
    const std::uint64_t address = std::uint64_t{placement.address} + i;
    const std::optional<std::uint8_t> byte = image.at(address);
    out.present += byte ? 1 : 0;
    if (byte && *byte != region.erased_byte(address) && out.not_erased++ == 0) {
      out.first = address;
    }
  }
  return out;
}

std::string range_of(const serial::Placement& placement) {
  return spell_range(placement.address, placement.end());
}

// The region, when the placement lies within it.
const profile::Region* check_region(const profile::Device& device,
                                    const serial::Placement& placement, Findings& findings) {
  const profile::Region* region = device.find_region(placement.region.view());
  if (region == nullptr) {
    findings.add(rules::serial_region,
                 fmt::format("serial is placed in region {}; {} has {}", placement.region.view(),
                             device.id, spell_regions(device)),
                 placement.place, "name one of the device's regions");
    return nullptr;
  }
  const std::uint64_t end = placement.end();
  if (placement.address < region->address || end > region->end()) {
    findings.add(rules::serial_outside,
                 fmt::format("serial takes {}; region {} of {} is {}", range_of(placement),
                             region->id, device.id, spell_range(region->address, region->end())),
                 placement.place, "move it into the region");
    return nullptr;
  }
  return region;
}

void check_bytes(const Inputs& in, const serial::Placement& placement,
                 const profile::Region& region, Findings& findings) {
  const image::SparseImage& image = in.firmware.firmware.image;
  const Held found = held(image, placement, region);
  if (placement.before == format::Before::placeholder && found.present != placement.length) {
    findings.add(rules::serial_no_placeholder,
                 fmt::format("firmware holds {} of the {} bytes at {} that the serial replaces",
                             found.present, placement.length, range_of(placement)),
                 placement.place,
                 "give the firmware a placeholder there, or state before=\"erased\"");
  }
  if (placement.before == format::Before::erased && found.not_erased != 0) {
    const auto origin = image.origin(found.first);
    const bool has_line = origin && origin->line != 0; // raw files have none
    findings.add(rules::serial_not_erased,
                 fmt::format("firmware holds {}{} at {}, where the serial expects erased {}",
                             image::spell_byte(*image.at(found.first)),
                             has_line ? fmt::format(" from line {}", origin->line) : "",
                             image::spell_address(found.first),
                             image::spell_byte(region.erased_byte(found.first))),
                 placement.place,
                 "keep the bytes free in the firmware, or state before=\"placeholder\"");
  }
}

} // namespace

void check_serial(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  if (!release.serial) {
    return;
  }
  for (const serial::Placement& placement : release.serial->placements) {
    if (const profile::Region* region = check_region(in.device, placement, findings)) {
      check_bytes(in, placement, *region, findings);
    }
  }
  for (std::size_t i = 0; i < in.stations.size(); ++i) {
    if (in.stations[i].serial == profile::SerialAbility::none) {
      findings.add(rules::serial_not_by_station,
                   fmt::format("scheme {} numbers {} units, {} gives every unit the same bytes",
                               release.serial->numbers.id.view(), release.serial->numbers.capacity,
                               in.stations[i].id),
                   release.stations[i].place, "leave the station out");
    }
  }
}

} // namespace cardseal::job
