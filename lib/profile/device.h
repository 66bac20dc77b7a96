// Device profile: the microcontroller, as its data sheet and headers give it. Authored as
// device.xml (templates/author/device.xml explains each value); ready ones stand in
// templates/author/devices.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "diag/error.h"
#include "profile/device_config.h"
#include "profile/device_region.h"
#include "profile/source.h"

namespace cardseal::profile {

// Where the device begins to run. A part whose program starts elsewhere, say in a boot section,
// states that place.
struct ResetVector {
  std::uint32_t address = 0; // byte address, inside a region of code
  std::uint32_t length = 1;  // bytes, 1 to 64; never all erased
  Source source;
  Place place;
};

enum class OverErase : std::uint8_t {
  survives,         // an erase of everything leaves it as it is
  save_and_restore, // it is erased too: a station reads it before and puts it back
};

struct KeptLocation { // the maker's own, such as a calibration; no two share an address
  std::string region;
  std::uint32_t address = 0;
  std::uint32_t length = 1; // bytes
  OverErase over_erase = OverErase::survives;
  std::string meaning; // 1 to 64 bytes
  Place place;

  std::uint64_t end() const { return std::uint64_t{address} + length; }
};

struct Silicon { // one revision of the chip
  std::vector<std::uint8_t> value;
  std::string title; // 1 to 40 bytes
  bool allowed = true;
};

struct DeviceId {                  // bytes in the order in which the device answers
  std::vector<std::uint8_t> value; // 1 to 8, no bit outside the mask
  std::vector<std::uint8_t> mask;  // as many; a clear bit is not compared
  // Bits that tell the revision, none of them in `mask`; empty when the answer holds none.
  std::vector<std::uint8_t> revision_mask;
  std::vector<Silicon> revisions; // known ones; at least one is allowed
  // Where firmware files may state the ID, to be compared and never programmed; none: nowhere.
  std::optional<std::uint32_t> file_address;
  bool file_reversed = false; // last byte of the answer first
  Source source;
  Place place;
};

// operating_min <= program_min <= program_max <= operating_max <= absolute_max, and so for erasing
// and verifying.
struct DeviceSupply {
  std::uint32_t operating_min_mv = 0;
  std::uint32_t operating_max_mv = 0;
  std::uint32_t program_min_mv = 0;
  std::uint32_t program_max_mv = 0;
  std::uint32_t erase_min_mv = 0; // of an erase of everything
  std::uint32_t erase_max_mv = 0;
  std::uint32_t verify_low_mv = 0; // the memory must still read right between these
  std::uint32_t verify_high_mv = 0;
  std::uint32_t absolute_max_mv = 0; // above it the device is damaged
  Source source;
  Place place;
};

// The sum that programming specifications print: every word of a region and the masked
// configuration words, absent ones as erased, modulo 2^16. It is that of an unprotected part;
// protected parts may print another formula.
struct DeviceSum {
  std::string region;
  bool by_byte = false; // else by whole words
  Source source;
  Place place;
};

enum class LockKind : std::uint8_t {
  reversible, // an erase of everything takes it away, with the memory
  permanent,
};

struct DeviceLock {
  std::string id; // at most 16
  LockKind kind = LockKind::reversible;
  std::string field;   // the configuration field that makes it; empty: a command of its own
  std::string value;   // its value when locked; empty with `field`
  std::string meaning; // 1 to 64 bytes
  Place place;
};

struct RegionTimes { // microseconds, the longest that the document gives
  std::string region;
  std::uint32_t write_unit_us = 0;
  std::optional<std::uint32_t> erase_unit_us;
};

struct DeviceTimes {
  std::uint32_t chip_erase_us = 0;
  std::vector<RegionTimes> regions;
  Source source;
  Place place;
};

struct Device {
  std::string id;              // at most 32
  std::string title;           // at most 40 bytes
  std::vector<Region> regions; // 1 to 16, at least one of code; no two share an id or an address
  Source regions_source;
  ResetVector reset;
  std::vector<KeptLocation> kept; // at most 16, in rising order of region id and address
  std::optional<Source> kept_source;
  std::optional<DeviceId> device_id; // none: the device can't be asked what it is
  std::optional<Configuration> configuration;
  std::optional<DeviceSum> sum; // none: its documents print none
  DeviceSupply supply;
  // Ways to get into the device that a station may use, as station profiles name them; at most 8.
  std::vector<std::string> entries;
  std::optional<Source> entries_source; // exactly when there are entries
  std::vector<DeviceLock> locks;        // at most 8
  std::optional<Source> locks_source;
  std::optional<DeviceTimes> times; // none: nobody looked them up
  Place place;

  const Region* find_region(std::string_view region_id) const; // null when there is none
  const Region* region_at(std::uint64_t address) const;        // null when there is none
};

xml::All<Device> read_device(const xml::Document& document);

} // namespace cardseal::profile
