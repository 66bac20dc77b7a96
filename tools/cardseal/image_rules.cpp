#include "image_rules.h"

#include <algorithm>

#include "image_words.h"
#include "profile/device.h"
#include "release.h"
#include "serial_source.h"
#include "unit/unit.h"
#include "xml/document.h"

namespace cardseal::tool {
namespace {

std::vector<std::uint8_t> low_byte_first(std::uint32_t value, std::uint32_t length) {
  std::vector<std::uint8_t> out;
  for (std::uint32_t i = 0; i < length; ++i) {
    out.push_back(static_cast<std::uint8_t>(value >> (8 * i)));
  }
  return out;
}

// What the job's lock sets is left open: the field's bits are as the job left them.
std::uint32_t bits_of_locks(const profile::Device& device, const profile::ConfigWord& word,
                            format::Lock lock) {
  std::uint32_t bits = 0;
  for (const profile::DeviceLock& one : device.locks) {
    const bool is_set =
        lock == (one.kind == profile::LockKind::reversible ? format::Lock::reversible
                                                           : format::Lock::permanent);
    for (const profile::ConfigField& field : word.fields) {
      bits |= is_set && field.id == one.field ? field.mask : 0;
    }
  }
  return bits;
}

void add_configuration(const profile::Device& device, format::Lock lock,
                       image::ReadBackRules& rules) {
  if (!device.configuration) {
    return;
  }
  for (const profile::ConfigWord& word : device.configuration->words) {
    const std::uint32_t counted = word.mask & ~bits_of_locks(device, word, lock);
    rules.configuration.push_back({word.id, word.address, low_byte_first(counted, word.length)});
    if (word.delivered) {
      rules.delivered.push_back(
          {word.id, word.address, low_byte_first(*word.delivered, word.length)});
    }
  }
}

Try<void> add_device(const ImageOptions& options, format::Lock lock, image::ReadBackRules& rules) {
  xml::All<profile::Device> device =
      xml::read_as(io::real_system(), options.device, profile::read_device);
  if (!device) {
    return Unexpected(report(device.error(), options.json));
  }
  for (const profile::KeptLocation& kept : device->kept) {
    rules.kept.push_back({kept.meaning, {kept.address, kept.length}});
  }
  add_configuration(*device, lock, rules);
  if (device->device_id && device->device_id->file_address) { // stated in a file, never programmed
    rules.unreadable.push_back(
        {"device ID", {*device->device_id->file_address, device->device_id->value.size()}});
  }
  for (const profile::Region& region : device->regions) {
    rules.erased_in.push_back({{region.id, {region.address, region.size}},
                               low_byte_first(region.erased, region.word_bytes())});
  }
  return {};
}

Try<void> add_unit(const ImageOptions& options, format::Lock& lock, image::ReadBackRules& rules) {
  TRY(source,
      read_serial_source({options.release, options.date_code, options.work_class}, options.json));
  lock = source.manifest.lock;
  for (const format::Placement& placement : source.manifest.placements.view()) {
    unit::UnitBytes bytes;
    const Outcome outcome = unit::bytes_of(source.serials(), placement, *options.unit, bytes);
    if (!outcome.ok()) {
      Error error = past_scheme(options.release, *options.unit, outcome);
      error.kind = ErrorKind::usage; // exit 1 says that the memories differ
      return Unexpected(std::move(error));
    }
    const ByteView view = bytes.view();
    rules.serial.push_back({placement_name(placement), placement.address,
                            std::vector<std::uint8_t>(view.begin(), view.end())});
  }
  return {};
}

Try<void> check_together(const ImageOptions& options) {
  const bool any = !options.serial.empty() || !options.mask.empty() || !options.kept.empty() ||
                   !options.unreadable.empty() || !options.device.empty() ||
                   !options.release.empty() || options.unit || !options.date_code.empty();
  if (any && options.read_back.empty()) {
    return Unexpected(usage_error("nothing was read back that could be explained", "no --read-back",
                                  "the file with a board's memory"));
  }
  if (options.release.empty() != !options.unit) {
    return Unexpected(usage_error("a unit's serial number follows from a release and an ordinal",
                                  options.unit ? "--unit alone" : "--release alone",
                                  "--release with --unit"));
  }
  if (!options.date_code.empty() && options.release.empty()) {
    return Unexpected(usage_error("a date code belongs to a unit's serial number",
                                  "--date-code alone", "--date-code with --release and --unit"));
  }
  return {};
}

} // namespace

Try<image::ReadBackRules> read_back_rules(const ImageOptions& options) {
  TRY_VOID(check_together(options));
  image::ReadBackRules rules;
  TRY(serial, to_named_bytes(options.serial, "the serial number's bytes"));
  TRY(masks, to_named_bytes(options.mask, "the mask's bytes"));
  TRY(kept, to_named(options.kept, "the kept location"));
  TRY(unreadable, to_named(options.unreadable, "the unreadable region"));
  rules.serial = std::move(serial);
  rules.configuration = std::move(masks);
  rules.kept = std::move(kept);
  rules.unreadable = std::move(unreadable);
  if (options.erased != "none") {
    TRY(erased, to_bytes(options.erased, "the erased value"));
    rules.erased = std::move(erased);
  }
  format::Lock lock = format::Lock::none;
  if (!options.release.empty()) {
    TRY_VOID(add_unit(options, lock, rules));
  }
  if (!options.device.empty()) {
    TRY_VOID(add_device(options, lock, rules));
  }
  return rules;
}

} // namespace cardseal::tool
