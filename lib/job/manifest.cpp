#include <algorithm>

#include "job/put.h"
#include "job/sealed_texts.h"

namespace cardseal::job {
namespace {

void put_device_id(const profile::Device& device, format::Manifest& out) {
  if (!device.device_id) {
    return;
  }
  format::DeviceId id;
  id.size = static_cast<std::uint8_t>(device.device_id->value.size());
  std::copy(device.device_id->value.begin(), device.device_id->value.end(), id.value.begin());
  std::copy(device.device_id->mask.begin(), device.device_id->mask.end(), id.mask.begin());
  out.device_id.set(id);
}

void put_models(const std::vector<profile::Station>& stations, format::Manifest& out) {
  for (const profile::Station* station : by_model(stations)) {
    out.station_models.add(put<format::Id>(station->id));
  }
}

void put_job(const ReleaseFile& release, const profile::Device& device, format::Manifest& out) {
  out.slots = release.slots.mask;
  out.supply_source = release.supply.source;
  out.supply_mv = release.supply.supply_mv;
  out.erase = release.settings.erase;
  out.blank_check = yes_no(release.settings.blank_check);
  out.verify = release.settings.verify;
  if (release.supply.verify) {
    out.verify_limits.set(*release.supply.verify);
  }
  out.lock = release.settings.lock;
  for (const profile::KeptLocation& kept : device.kept) {
    out.kept.add({put<format::Id>(kept.region), kept.address, kept.length});
  }
  out.stop_after = static_cast<std::uint8_t>(release.settings.stop_after);
  out.plain_file = yes_no(release.settings.plain_file);
}

void put_serial(const serial::Scheme& scheme, format::Manifest& out) {
  out.scheme.set(scheme.numbers);
  out.alphabet = scheme.alphabet;
  out.serial_crc = scheme.crc;
  out.excluded = scheme.excluded;
  out.parts = scheme.parts;
  std::vector<serial::Placement> placements = scheme.placements;
  std::sort(placements.begin(), placements.end(), [](const auto& a, const auto& b) {
    return a.region == b.region ? a.address < b.address : a.region.view() < b.region.view();
  });
  for (const serial::Placement& placement : placements) {
    out.placements.add(placement);
  }
}

} // namespace

format::Manifest manifest_of(const ReleaseFile& release, const Inputs& in,
                             const format::Digest& owner) {
  format::Manifest out;
  out.owner = owner;
  out.product = put<format::Id>(release.product);
  out.release = put<format::Name>(release.version);
  out.epoch = release.epoch;
  out.sequence = release.sequence;
  out.title = put<format::Name>(release.title);
  if (release.previous) {
    out.previous.set(*release.previous);
  }
  out.device = put<format::Text<32>>(in.device.id);
  put_device_id(in.device, out);
  out.board = put<format::Text<32>>(in.board.id);
  out.board_revision = in.board.revision;
  put_models(in.stations, out);
  put_job(release, in.device, out);
  if (release.serial) {
    put_serial(*release.serial, out);
  }
  return out;
}

} // namespace cardseal::job
