#include "profile/device_parts.h"

#include <algorithm>

#include "xml/join.h"

namespace cardseal::profile {
namespace {

constexpr std::uint32_t hour_us = 3'600'000'000;

std::string ids_of(const Device& device) {
  std::string out;
  for (const Region& region : device.regions) {
    out += xml::joined({out.empty() ? "" : ", ", region.id});
  }
  return out;
}

// The region that `attribute` names; null, with an error, when there is none.
const Region* named_region(const xml::Element& element, const char* attribute,
                           const std::string& id, const Device& device) {
  const Region* region = device.find_region(id);
  if (element.sound() && region == nullptr) {
    element.refuse(attribute, "the device has no such region", id, ids_of(device),
                   "name one of them");
  }
  return region;
}

KeptLocation read_location(const xml::Element& element, const Device& device) {
  constexpr xml::Word<OverErase> words[] = {{"survives", OverErase::survives},
                                            {"save-and-restore", OverErase::save_and_restore}};
  KeptLocation kept;
  kept.region = element.id("region", 16);
  kept.address = element.hex("address", 0, max_u32);
  kept.length = element.size("length", 1, max_u32);
  kept.over_erase = element.choice("over-erase", words);
  kept.meaning = element.text("meaning", 1, 64);
  kept.place = element.place();
  const Region* region = named_region(element, "region", kept.region, device);
  if (element.sound() && region != nullptr &&
      (kept.address < region->address || kept.end() > region->end())) {
    element.refuse("address", "a kept location lies outside its region",
                   std::to_string(kept.address),
                   xml::joined({std::to_string(region->address), " and above, below ",
                                std::to_string(region->end())}),
                   "correct address or length");
  }
  return kept;
}

bool check_lengths(const xml::Element& element, const char* attribute, std::size_t found,
                   std::size_t expected) {
  if (!element.sound() || found == expected) {
    return element.sound();
  }
  element.refuse(attribute, xml::joined({attribute, " and value differ in length"}),
                 xml::joined({std::to_string(found), " bytes"}),
                 xml::joined({std::to_string(expected), " bytes"}),
                 "give one byte for each byte of value");
  return false;
}

void check_within(const xml::Element& element, const std::vector<std::uint8_t>& value,
                  const std::vector<std::uint8_t>& mask) {
  for (std::size_t i = 0; i < value.size(); ++i) {
    if (element.sound() && (value[i] & ~mask[i]) != 0) {
      element.refuse("value", "the value has bits that the mask leaves out",
                     xml::joined({"such bits in byte ", std::to_string(i + 1)}), "zero there",
                     "clear them, or set them in mask");
    }
  }
}

void read_revisions(const xml::Element& element, DeviceId& id) {
  id.revision_mask = element.bytes("mask", 1, 8);
  if (!check_lengths(element, "mask", id.revision_mask.size(), id.value.size())) {
    return;
  }
  for (std::size_t i = 0; i < id.mask.size(); ++i) {
    if (element.sound() && (id.revision_mask[i] & id.mask[i]) != 0) {
      element.refuse("mask", "the revision's bits are part of the device ID",
                     xml::joined({"such bits in byte ", std::to_string(i + 1)}),
                     "bits that the mask of the device ID leaves out", "correct one of the two");
    }
  }
  for (const xml::Element& one : element.many("revision", 1, 32)) {
    Silicon silicon{one.bytes("value", 1, 8), one.text("title", 1, 40), one.yes_no("allowed")};
    if (check_lengths(one, "value", silicon.value.size(), id.value.size())) {
      check_within(one, silicon.value, id.revision_mask);
    }
    id.revisions.push_back(std::move(silicon));
  }
  const bool any = std::any_of(id.revisions.begin(), id.revisions.end(),
                               [](const Silicon& silicon) { return silicon.allowed; });
  if (element.sound() && !any) {
    element.refuse({}, "no revision is allowed", "allowed=\"no\" everywhere",
                   "at least one with allowed=\"yes\"", "then no board can be programmed");
  }
}

DeviceLock read_lock(const xml::Element& element, const Device& device) {
  constexpr xml::Word<LockKind> kinds[] = {{"reversible", LockKind::reversible},
                                           {"permanent", LockKind::permanent}};
  DeviceLock lock;
  lock.id = element.id("id", 16);
  lock.kind = element.choice("kind", kinds);
  if (element.has("field")) {
    lock.field = element.id("field", 16);
    lock.value = element.id("value", 16);
  }
  lock.meaning = element.text("meaning", 1, 64);
  lock.place = element.place();
  if (!element.sound() || lock.field.empty()) {
    return lock;
  }
  const ConfigField* field =
      device.configuration ? device.configuration->find_field(lock.field) : nullptr;
  if (field == nullptr || field->role != FieldRole::protection) {
    element.refuse("field", "a lock is made by no field of protection", lock.field,
                   "the id of a field with role=\"protection\"", "add it to <configuration>");
  } else if (field->find_value(lock.value) == nullptr) {
    element.refuse("value", "the lock's value is none of its field's", lock.value,
                   xml::joined({"one of ", lock.field}), "name one of them");
  }
  return lock;
}

} // namespace

ResetVector read_reset(const xml::Element& element, const Device& device) {
  ResetVector reset;
  reset.address = element.hex("address", 0, max_u32);
  reset.length = element.size("length", 1, 64);
  reset.source = read_source(element);
  reset.place = element.place();
  const Region* region = device.region_at(reset.address);
  if (element.sound() && (region == nullptr || region->kind != RegionKind::code ||
                          std::uint64_t{reset.address} + reset.length > region->end())) {
    element.refuse("address", "the reset vector lies in no region of code",
                   std::to_string(reset.address), ids_of(device), "correct one of the two");
  }
  return reset;
}

void read_kept(const xml::Element& element, Device& device) {
  device.kept_source = read_source(element);
  for (const xml::Element& one : element.many("location", 1, 16)) {
    const KeptLocation kept = read_location(one, device);
    for (const KeptLocation& before : device.kept) {
      if (one.sound() && kept.address < before.end() && before.address < kept.end()) {
        one.refuse("address", "two kept locations share addresses", std::to_string(kept.address),
                   xml::joined({"other than in line ", std::to_string(before.place.line)}),
                   "join the two");
      }
    }
    device.kept.push_back(kept);
  }
  std::sort(device.kept.begin(), device.kept.end(), [](const auto& a, const auto& b) {
    return a.region != b.region ? a.region < b.region : a.address < b.address;
  });
}

DeviceId read_device_id(const xml::Element& element, const Device& device) {
  DeviceId id;
  id.value = element.bytes("value", 1, 8);
  id.mask = element.bytes("mask", 1, 8);
  id.source = read_source(element);
  id.place = element.place();
  if (check_lengths(element, "mask", id.mask.size(), id.value.size())) {
    check_within(element, id.value, id.mask);
  }
  if (element.has("file-address")) {
    constexpr xml::Word<bool> orders[] = {{"as-answered", false}, {"reversed", true}};
    id.file_address = element.hex("file-address", 0, max_u32);
    id.file_reversed = element.choice("file-order", orders);
  }
  if (element.sound() && id.file_address) {
    for (std::uint64_t i = 0; i < id.value.size(); ++i) {
      if (device.region_at(*id.file_address + i) != nullptr) {
        element.refuse("file-address", "a firmware file states the device ID inside of a region",
                       device.region_at(*id.file_address + i)->id, "addresses outside of regions",
                       "correct one of the two");
        break;
      }
    }
  }
  if (const xml::Element revisions = element.maybe("revisions")) {
    read_revisions(revisions, id);
  }
  return id;
}

DeviceSum read_device_sum(const xml::Element& element, const Device& device) {
  constexpr xml::Word<bool> words[] = {{"byte", true}, {"word", false}};
  DeviceSum sum;
  sum.region = element.id("region", 16);
  sum.by_byte = element.choice("by", words);
  sum.source = read_source(element);
  sum.place = element.place();
  named_region(element, "region", sum.region, device);
  return sum;
}

void read_locks(const xml::Element& element, Device& device) {
  device.locks_source = read_source(element);
  for (const xml::Element& one : element.many("lock", 1, 8)) {
    device.locks.push_back(read_lock(one, device));
  }
}

DeviceTimes read_times(const xml::Element& element, const Device& device) {
  DeviceTimes times;
  times.chip_erase_us = element.uint("chip-erase-microseconds", 0, hour_us);
  times.source = read_source(element);
  times.place = element.place();
  for (const xml::Element& one : element.many("region", 0, 16)) {
    RegionTimes region;
    region.region = one.id("id", 16);
    region.write_unit_us = one.uint("write-unit-microseconds", 0, hour_us);
    if (one.has("erase-unit-microseconds")) {
      region.erase_unit_us = one.uint("erase-unit-microseconds", 0, hour_us);
    }
    named_region(one, "id", region.region, device);
    times.regions.push_back(region);
  }
  return times;
}

} // namespace cardseal::profile
