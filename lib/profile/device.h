// Device profile: the microcontroller, as its data sheet and headers give it. Authored as
// device.xml (templates/author/device.xml explains each value).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "diag/error.h"
#include "profile/source.h"

namespace cardseal::profile {

enum class RegionKind : std::uint8_t { code, data, config };

// A piece of memory that can be programmed. address + size is at most 2^32.
struct Region {
  std::string id; // at most 16
  RegionKind kind = RegionKind::code;
  std::uint32_t address = 0; // byte address, as firmware files give it
  std::uint32_t size = 1;    // bytes, a multiple of write_unit
  std::uint8_t erased = 0xFF;
  std::uint32_t write_unit = 1; // bytes programmed at once; the region starts on such a boundary
  Place place;

  std::uint64_t end() const { return std::uint64_t{address} + size; }
};

struct DeviceId {                  // bytes in the order in which the device answers
  std::vector<std::uint8_t> value; // 1 to 8, no bit outside the mask
  std::vector<std::uint8_t> mask;  // as many; a clear bit is not compared
  Source source;
  Place place;
};

// operating_min <= program_min <= program_max <= operating_max <= absolute_max
struct DeviceSupply {
  std::uint32_t operating_min_mv = 0;
  std::uint32_t operating_max_mv = 0;
  std::uint32_t program_min_mv = 0; // for programming and erasing
  std::uint32_t program_max_mv = 0;
  std::uint32_t absolute_max_mv = 0; // above it the device is damaged
  Source source;
  Place place;
};

struct Device {
  std::string id;              // at most 32
  std::string title;           // at most 40 bytes
  std::vector<Region> regions; // 1 to 16, at least one of code; no two share an id or an address
  Source regions_source;
  std::optional<DeviceId> device_id; // none: the device can't be asked what it is
  DeviceSupply supply;
  Place place;

  const Region* find_region(std::string_view region_id) const; // null when there is none
};

xml::All<Device> read_device(const xml::Document& document);

} // namespace cardseal::profile
