#include "profile/device.h"

#include <algorithm>

#include "xml/join.h"

namespace cardseal::profile {

namespace {

constexpr std::uint32_t max_u32 = 0xFFFFFFFF;
constexpr std::uint32_t max_mv = 60000;

Region read_region(const xml::Element& element) {
  constexpr xml::Word<RegionKind> kinds[] = {
      {"code", RegionKind::code}, {"data", RegionKind::data}, {"config", RegionKind::config}};
  Region region;
  region.id = element.id("id", 16);
  region.kind = element.choice("kind", kinds);
  region.address = element.hex("address", 0, max_u32);
  region.size = element.size("size", 1, max_u32);
  region.erased = static_cast<std::uint8_t>(element.hex("erased", 0, 0xFF));
  region.write_unit = element.size("write-unit", 1, 65536);
  region.place = element.place();
  if (element.sound() && region.end() > std::uint64_t{max_u32} + 1) {
    element.refuse("size", "the region passes the last address of 32 bits",
                   std::to_string(region.end()),
                   xml::joined({"an end of at most ", std::to_string(std::uint64_t{max_u32} + 1)}),
                   "correct address or size");
  }
  if (element.sound() &&
      (region.size % region.write_unit != 0 || region.address % region.write_unit != 0)) {
    element.refuse("write-unit", "address or size of the region is no multiple of its write unit",
                   xml::joined({std::to_string(region.address), " and ",
                                std::to_string(region.size), " bytes"}),
                   xml::joined({"multiples of ", std::to_string(region.write_unit)}),
                   "look up what the device programs at once");
  }
  return region;
}

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

DeviceId read_device_id(const xml::Element& element) {
  DeviceId id;
  id.value = element.bytes("value", 1, 8);
  id.mask = element.bytes("mask", 1, 8);
  id.source = read_source(element);
  id.place = element.place();
  if (!element.sound()) {
    return id;
  }
  if (id.value.size() != id.mask.size()) {
    element.refuse("mask", "mask and value differ in length",
                   xml::joined({std::to_string(id.mask.size()), " bytes"}),
                   xml::joined({std::to_string(id.value.size()), " bytes"}),
                   "give one mask byte for each byte of value");
    return id;
  }
  for (std::size_t i = 0; i < id.value.size(); ++i) {
    if ((id.value[i] & ~id.mask[i]) != 0) {
      element.refuse("value", "the value has bits that the mask leaves out",
                     xml::joined({"such bits in byte ", std::to_string(i + 1)}), "zero there",
                     "clear them, or set them in mask");
    }
  }
  return id;
}

DeviceSupply read_supply(const xml::Element& element) {
  DeviceSupply supply;
  supply.operating_min_mv = element.uint("operating-min-millivolts", 0, max_mv);
  supply.operating_max_mv = element.uint("operating-max-millivolts", 0, max_mv);
  supply.program_min_mv = element.uint("program-min-millivolts", 0, max_mv);
  supply.program_max_mv = element.uint("program-max-millivolts", 0, max_mv);
  supply.absolute_max_mv = element.uint("absolute-max-millivolts", 0, max_mv);
  supply.source = read_source(element);
  supply.place = element.place();
  const std::uint32_t rising[] = {supply.operating_min_mv, supply.program_min_mv,
                                  supply.program_max_mv, supply.operating_max_mv,
                                  supply.absolute_max_mv};
  if (element.sound() && !std::is_sorted(std::begin(rising), std::end(rising))) {
    std::string found;
    for (const std::uint32_t mv : rising) {
      found += xml::joined({found.empty() ? "" : ", ", std::to_string(mv)});
    }
    element.refuse({}, "the supply's limits contradict each other", xml::joined({found, " mV"}),
                   "operating-min, program-min, program-max, operating-max, absolute-max in rising "
                   "order",
                   "look them up again");
  }
  return supply;
}

} // namespace

const Region* Device::find_region(std::string_view region_id) const {
  const auto found = std::find_if(regions.begin(), regions.end(),
                                  [&](const Region& region) { return region.id == region_id; });
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
  if (const xml::Element id = root.maybe("device-id")) {
    device.device_id = read_device_id(id);
  }
  device.supply = read_supply(root.one("supply"));
  return reader.result(std::move(device));
}

} // namespace cardseal::profile
