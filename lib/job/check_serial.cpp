#include <bit>

#include <fmt/format.h>

#include "image/spell.h"
#include "job/checks.h"
#include "job/rules.h"
#include "serial/collide.h"

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

// Only a constant can be seen to fit a word's upper bits; what the serial itself holds can't.
void check_words(const serial::Placement& placement, const profile::Region& region,
                 Findings& findings) {
  for (std::uint32_t i = 0; i < placement.length; ++i) {
    const std::uint64_t in_word = (placement.address + i - region.address) % region.word_bytes();
    const std::uint64_t has = region.word_mask() >> (8 * in_word) & 0xFFU;
    const bool constant = placement.second_byte.present && i % 2 == 1;
    if (has != 0xFF && (!constant || (placement.second_byte.value & ~has) != 0)) {
      findings.add(rules::serial_word_bits,
                   fmt::format("serial puts {} at {}, where words of {} bits in {} have {} bits",
                               constant ? image::spell_byte(placement.second_byte.value)
                                        : std::string("a byte of its own"),
                               image::spell_address(placement.address + i), region.word_bits,
                               region.id, std::popcount(has)),
                   placement.place,
                   "begin on a word, and state second-byte for words of two bytes");
      return;
    }
  }
}

// Whether such a station puts number and firmware together before it writes, nobody here knows.
bool counts_by_itself(const Inputs& in) {
  return std::any_of(in.stations.begin(), in.stations.end(), [](const profile::Station& station) {
    return station.serial == profile::SerialAbility::counter ||
           station.serial == profile::SerialAbility::file;
  });
}

// Firmware in the units that the placement's ends lie in, outside of it.
void check_units(const Inputs& in, const serial::Placement& placement,
                 const profile::Region& region, Findings& findings) {
  const std::uint64_t unit = region.together();
  const std::uint64_t from = placement.address - (placement.address - region.address) % unit;
  const std::uint64_t end =
      placement.end() + (unit - (placement.end() - region.address) % unit) % unit;
  for (std::uint64_t at = from; at < end; ++at) {
    const bool own = at >= placement.address && at < placement.end();
    const std::optional<std::uint8_t> byte = in.firmware.firmware.image.at(at);
    if (!own && byte && *byte != region.erased_byte(at)) {
      if (region.ecc_word && counts_by_itself(in)) {
        findings.add(
            rules::serial_shares_ecc,
            fmt::format("serial takes {}; firmware at {} is in the same {} bytes with one "
                        "check code in {}",
                        range_of(placement), image::spell_address(at), unit, region.id),
            placement.place,
            "move the serial to a word of its own, or name stations of ability loader only");
        return;
      }
      findings.add(rules::serial_shares_unit,
                   fmt::format("serial takes {}; firmware at {} is programmed with it, {} bytes at "
                               "once in {}",
                               range_of(placement), image::spell_address(at), unit, region.id),
                   placement.place,
                   "see that every named station puts the two together, or move the serial to a "
                   "write unit of its own");
      return;
    }
  }
}

// Every character that some unit's text can show, but those of a date code.
std::string shown(const serial::Scheme& scheme) {
  std::string out;
  for (const format::Part& part : scheme.parts.view()) {
    out += part.literal.value.view();
    out += slice(format::digits_of(scheme.alphabet), 0, part.base.value);
  }
  return out;
}

// Common practice, no source: pairs that are misread on labels and keyed in for each other.
void check_confusable(const serial::Scheme& scheme, Findings& findings) {
  const auto parts = scheme.parts.view();
  if (std::any_of(parts.begin(), parts.end(),
                  [](const format::Part& part) { return part.kind == format::PartKind::check; })) {
    return; // one character taken for another is found
  }
  constexpr std::string_view pairs[] = {"0O", "0Q", "1I", "1l", "Il", "2Z", "5S", "8B"};
  const std::string characters = shown(scheme);
  std::string found;
  for (const std::string_view pair : pairs) {
    if (characters.find(pair[0]) != std::string::npos &&
        characters.find(pair[1]) != std::string::npos) {
      found += fmt::format("{}{} and {}", found.empty() ? "" : ", ", pair[0], pair[1]);
    }
  }
  if (!found.empty()) {
    findings.add(rules::serial_confusable,
                 fmt::format("serial texts of {} can show {}", scheme.numbers.id.view(), found),
                 scheme.place, "leave one of each out with an alphabet, or add a check");
  }
}

void check_taken(const serial::Scheme& scheme, Findings& findings) {
  for (const serial::TakenPrefix& taken : scheme.taken) {
    if (serial::can_begin_with(scheme.serials(), taken.text)) {
      findings.add(
          rules::prefix_taken,
          fmt::format("a text of {}, of {} characters, can begin with {}, as those of {} do",
                      scheme.numbers.id.view(), scheme.text_length(), taken.text, taken.by),
          taken.place, "choose a literal that tells them apart");
    }
  }
}

} // namespace

void check_serial(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  if (!release.serial) {
    return;
  }
  check_confusable(*release.serial, findings);
  check_taken(*release.serial, findings);
  for (const serial::Placement& placement : release.serial->placements) {
    if (const profile::Region* region = check_region(in.device, placement, findings)) {
      check_bytes(in, placement, *region, findings);
      check_words(placement, *region, findings);
      check_units(in, placement, *region, findings);
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
