#include "profile/device.h"

#include <algorithm>

#include "profile/device_parts.h"
#include "profile/entries.h"
#include "xml/join.h"

namespace cardseal::profile {

namespace {

constexpr std::uint32_t max_mv = 60000;

void check_pair(const xml::Element& element, const Region& a, const Region& b) {
  if (a.id == b.id) {
    element.refuse("id", "two regions have one id", a.id,
                   xml::joined({"an id other than in line ", std::to_string(a.place.line)}),
                   "rename one of the two");
  }
  if (a.address < b.end() && b.address < a.end()) {
    element.refuse(
        "address", "two regions share addresses", b.id,
        xml::joined({"addresses outside of ", a.id, " in line ", std::to_string(a.place.line)}),
        "correct address or size of one of the two");
  }
}

void read_regions(const xml::Element& element, Device& device) {
  device.regions_source = read_source(element);
  for (const xml::Element& one : element.many("region", 1, 16)) {
    const Region region = read_region(one);
    for (const Region& before : device.regions) {
      if (!one.sound()) {
        break;
      }
      check_pair(one, before, region);
    }
    device.regions.push_back(region);
  }
  const bool code = std::any_of(device.regions.begin(), device.regions.end(),
                                [](const Region& r) { return r.kind == RegionKind::code; });
  if (element.sound() && !code) {
    element.refuse({}, "the device has no region of code", "none", "at least one of kind code",
                   "add the region that the firmware is programmed to");
  }
}

// From operating-min up to absolute-max, with `low` and `high` in their places between.
void check_rising(const xml::Element& element, const DeviceSupply& supply, std::uint32_t low,
                  std::uint32_t high, const std::string& name) {
  const std::uint32_t rising[] = {supply.operating_min_mv, low, high, supply.operating_max_mv,
                                  supply.absolute_max_mv};
  if (!element.sound() || std::is_sorted(std::begin(rising), std::end(rising))) {
    return;
  }
  std::string found;
  for (const std::uint32_t mv : rising) {
    found += xml::joined({found.empty() ? "" : ", ", std::to_string(mv)});
  }
  element.refuse({}, "the supply's limits contradict each other", xml::joined({found, " mV"}),
                 xml::joined({"operating-min, ", name,
                              "operating-max, absolute-max in rising "
                              "order"}),
                 "look them up again");
}

DeviceSupply read_device_supply(const xml::Element& element) {
  DeviceSupply supply;
  supply.operating_min_mv = element.uint("operating-min-millivolts", 0, max_mv);
  supply.operating_max_mv = element.uint("operating-max-millivolts", 0, max_mv);
  supply.program_min_mv = element.uint("program-min-millivolts", 0, max_mv);
  supply.program_max_mv = element.uint("program-max-millivolts", 0, max_mv);
  supply.erase_min_mv = element.uint("erase-min-millivolts", 0, max_mv);
  supply.erase_max_mv = element.uint("erase-max-millivolts", 0, max_mv);
  supply.verify_low_mv = element.uint("verify-low-millivolts", 0, max_mv);
  supply.verify_high_mv = element.uint("verify-high-millivolts", 0, max_mv);
  supply.absolute_max_mv = element.uint("absolute-max-millivolts", 0, max_mv);
  supply.source = read_source(element);
  supply.place = element.place();
  check_rising(element, supply, supply.program_min_mv, supply.program_max_mv,
               "program-min, program-max, ");
  check_rising(element, supply, supply.erase_min_mv, supply.erase_max_mv, "erase-min, erase-max, ");
  check_rising(element, supply, supply.verify_low_mv, supply.verify_high_mv,
               "verify-low, verify-high, ");
  return supply;
}

// What a value closes is an entry that the device has.
void check_closes(const xml::Element& element, const Device& device) {
  for (const ConfigWord& word : device.configuration->words) {
    for (const ConfigField& field : word.fields) {
      for (const ConfigValue& value : field.values) {
        if (element.sound() && !value.closes.empty() &&
            std::find(device.entries.begin(), device.entries.end(), value.closes) ==
                device.entries.end()) {
          element.refuse({}, "a value closes an entry that the device does not have",
                         xml::joined({field.id, " ", value.id, ": ", value.closes}),
                         "one of <entries>", "add it there, or correct closes");
        }
      }
    }
  }
}

} // namespace

const Region* Device::find_region(std::string_view region_id) const {
  const auto found = std::find_if(regions.begin(), regions.end(),
                                  [&](const Region& region) { return region.id == region_id; });
  return found == regions.end() ? nullptr : &*found;
}

const Region* Device::region_at(std::uint64_t address) const {
  const auto found = std::find_if(regions.begin(), regions.end(), [&](const Region& region) {
    return address >= region.address && address < region.end();
  });
  return found == regions.end() ? nullptr : &*found;
}

xml::All<Device> read_device(const xml::Document& document) {
  xml::Reader reader(document);
  const xml::Element root = reader.root("device");
  Device device;
  device.id = root.id("id");
  device.title = root.text("title", 1, 40);
  device.place = root.place();
  read_regions(root.one("regions"), device);
  device.reset = read_reset(root.one("reset-vector"), device);
  if (const xml::Element kept = root.maybe("kept")) {
    read_kept(kept, device);
  }
  if (const xml::Element id = root.maybe("device-id")) {
    device.device_id = read_device_id(id, device);
  }
  if (const xml::Element entries = root.maybe("entries")) {
    read_entries(entries, device.entries, device.entries_source);
  }
  if (const xml::Element configuration = root.maybe("configuration")) {
    device.configuration = read_configuration(configuration, device.regions);
    check_closes(configuration, device);
  }
  if (const xml::Element sum = root.maybe("device-sum")) {
    device.sum = read_device_sum(sum, device);
  }
  device.supply = read_device_supply(root.one("supply"));
  if (const xml::Element locks = root.maybe("locks")) {
    read_locks(locks, device);
  }
  if (const xml::Element times = root.maybe("times")) {
    device.times = read_times(times, device);
  }
  return reader.result(std::move(device));
}

} // namespace cardseal::profile
