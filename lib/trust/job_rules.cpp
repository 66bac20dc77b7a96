#include "trust/job_rules.h"

#include "format/codec.h"
#include "trust/checks.h"

namespace cardseal::trust {
namespace {

std::uint64_t last_of(const format::Allotment& allotment) {
  return format::ordinal_at(allotment, allotment.count - 1);
}

bool in_window(const format::TrustList& list, const format::Key& key,
               const format::Allotment& allotment) {
  const std::uint64_t last = last_of(allotment);
  const format::WindowUse use = allotment.work_class == format::WorkClass::engineering
                                    ? format::WindowUse::engineering
                                    : format::WindowUse::shipment;
  for (const format::Window& window : list.windows.view()) {
    if (window.key == key && window.scheme == allotment.scheme.value && window.use == use &&
        allotment.first >= window.first && last <= window.last) {
      return true;
    }
  }
  return false;
}

bool within_limits(const PackageVerdict& verdict, const format::Allotment& allotment) {
  if (verdict.units_a_station.present && allotment.units > verdict.units_a_station.value) {
    return false;
  }
  if (!verdict.numbers.present || !allotment.scheme.present) {
    return true;
  }
  const format::OrdinalRange& range = verdict.numbers.value;
  return allotment.first >= range.first && last_of(allotment) <= range.last;
}

bool class_fits(const PackageVerdict& verdict, const format::Allotment& allotment) {
  const bool engineering = allotment.work_class == format::WorkClass::engineering;
  const bool again = allotment.numbers != format::Numbers::fresh;
  return engineering == verdict.engineering &&
         (!engineering || allotment.units <= engineering_units) &&
         (!again || allotment.work_class == format::WorkClass::rework);
}

bool scheme_fits(const format::Manifest& manifest, const format::Allotment& allotment) {
  return manifest.scheme.present == allotment.scheme.present &&
         (!manifest.scheme.present || manifest.scheme.value.id == allotment.scheme.value);
}

bool capacity_fits(const format::Manifest& manifest, const format::Allotment& allotment) {
  return !manifest.scheme.present || last_of(allotment) < manifest.scheme.value.capacity;
}

bool slots_fit(const format::Manifest& manifest, const format::Allotment& allotment) {
  return allotment.enabled_slots != 0 && (allotment.enabled_slots & ~manifest.slots) == 0;
}

// A serial already kept goes on where it stopped; another one must be above the lowest kept once
// there is no room left.
Outcome judge_serial(const StationView& station, const format::Allotment& allotment,
                     const format::Digest& text, KeptAllotment& used) {
  used = {allotment.serial, 0, 0, text};
  for (const KeptAllotment& kept : station.kept) {
    if (kept.serial == allotment.serial) {
      used = kept;
      return Checks()
          .need(kept.text == text, Fault::allotment_serial)
          .need(kept.units_started < allotment.units, Fault::allotment_used_up)
          .outcome();
    }
  }
  const bool room = station.kept.size() < kept_allotments;
  return Checks()
      .need(room || allotment.serial > station.kept[0].serial, Fault::allotment_serial)
      .outcome();
}

// Does every supply that the station has to make fit: the job's, and those at which it verifies?
template <class F>
bool supplies_fit(const format::Manifest& manifest, F fits) {
  const format::Maybe<format::VerifyLimits>& verify = manifest.verify_limits;
  return manifest.supply_source == format::SupplySource::board ||
         (fits(manifest.supply_mv) &&
          (!verify.present || (fits(verify.value.low_mv) && fits(verify.value.high_mv))));
}

} // namespace

Outcome judge_allotment_text(const RootView& root, const format::TrustList& list,
                             const format::TrustedKey& signer, const JobInput& job,
                             const format::Allotment& allotment) {
  const bool windowed = !allotment.scheme.present || in_window(list, signer.key, allotment);
  const bool scoped = !signer.product.present || signer.product.value == allotment.product;
  return Checks()
      .need(allotment.owner == root.owner, Fault::allotment_owner)
      .need(allotment.manifest == job.verdict.manifest_digest, Fault::allotment_manifest)
      .need(allotment.product == job.manifest.product, Fault::allotment_product)
      .need(scoped, Fault::signoff_key_product)
      .need(scheme_fits(job.manifest, allotment), Fault::allotment_scheme)
      .need(allotment.card == job.card_id, Fault::allotment_card)
      .need(class_fits(job.verdict, allotment), Fault::allotment_class)
      .need(windowed, Fault::allotment_window) // which one depends on the class
      .need(capacity_fits(job.manifest, allotment), Fault::allotment_capacity)
      .need(!allotment.scheme.present || allotment.units <= allotment.count, Fault::allotment_units)
      .need(format::date_code_good(job.manifest.parts.view(), allotment.date_code),
            Fault::allotment_date_code)
      .need(within_limits(job.verdict, allotment), Fault::allotment_limits)
      .need(slots_fit(job.manifest, allotment), Fault::allotment_slots)
      .outcome();
}

Outcome judge_allotment(const CryptoTable& crypto, const RootView& root,
                        const format::TrustList& list, const StationView& station,
                        const JobInput& job, format::Allotment& out, KeptAllotment& used) {
  const format::TrustedKey* signer = nullptr;
  const Signed signed_text{format::Allotment::kind, job.allotment_text, job.allotment_signature};
  Outcome outcome =
      find_allot_signer(crypto, list, signed_text, Fault::allotment_signature, signer);
  if (outcome.ok()) {
    outcome = format::decode(job.allotment_text, out);
  }
  if (outcome.ok()) {
    outcome = judge_allotment_text(root, list, *signer, job, out);
  }
  if (outcome.ok()) {
    outcome = Checks()
                  .need(out.station == station.station, Fault::allotment_station)
                  .need(out.enrolment == station.enrolment, Fault::allotment_enrolment)
                  .outcome();
  }
  return outcome.ok() ? judge_serial(station, out, digest_of(crypto, job.allotment_text), used)
                      : outcome;
}

Outcome judge_settings(const format::Manifest& manifest, const StationLimits& limits) {
  bool named = false;
  for (const format::Id& model : manifest.station_models.view()) {
    named = named || model == limits.model;
  }
  const bool own = manifest.supply_source == format::SupplySource::board;
  const bool in_range = supplies_fit(manifest, [&](std::uint32_t mv) {
    return mv >= limits.supply_low_mv && mv <= limits.supply_high_mv;
  });
  const std::uint32_t step = limits.supply_step_mv == 0 ? 1 : limits.supply_step_mv;
  const bool on_step = supplies_fit(
      manifest, [&](std::uint32_t mv) { return (mv - limits.supply_low_mv) % step == 0; });
  return Checks()
      .need(named, Fault::station_model)
      .need(manifest.slots != 0 && (manifest.slots & ~limits.slots) == 0, Fault::station_slots)
      .need(!own || limits.own_supply_ok, Fault::station_supply_kind)
      .need(in_range, Fault::station_supply)
      .need(on_step, Fault::station_step)
      .outcome();
}

} // namespace cardseal::trust
