// Admission of the work itself: the allotment of this card, and the settings against what the
// station can do.
#pragma once

#include "trust/package_rules.h"

namespace cardseal::trust {

struct StationLimits { // set at enrolment, from the station's own data
  format::Id model;
  std::uint32_t slots = 0; // bit 0 is slot 1
  std::uint32_t supply_low_mv = 0;
  std::uint32_t supply_high_mv = 0;
  std::uint32_t supply_step_mv = 1; // from supply_low_mv on
  bool own_supply_ok = false;       // can it work boards that bring their own supply?
};

struct KeptAllotment { // a station remembers the four with the highest serials
  std::uint64_t serial = 0;
  std::uint64_t ordinals_used = 0;
  std::uint32_t units_started = 0;
  format::Digest text{}; // of the allotment
};

struct StationView {
  format::Id station;
  std::uint32_t enrolment = 1;
  StationLimits limits;
  std::span<const KeptAllotment> kept; // ascending by serial, at most four
};

inline constexpr std::size_t kept_allotments = 4;
inline constexpr std::uint32_t engineering_units = 20;

struct JobInput {
  const format::Manifest& manifest;
  const PackageVerdict& verdict;
  format::CardId card_id;
  ByteView allotment_text;
  ByteView allotment_signature;
};

// Signature, then the text against package, card, station and the limits signed by quality. `out`
// is set on success; `used` is what this station has already begun of it.
Outcome judge_allotment(const CryptoTable& crypto, const RootView& root,
                        const format::TrustList& list, const StationView& station,
                        const JobInput& job, format::Allotment& out, KeptAllotment& used);

// The part of judge_allotment that the desk checks before a card is made: everything but station
// memory.
Outcome judge_allotment_text(const RootView& root, const format::TrustList& list,
                             const format::TrustedKey& signer, const JobInput& job,
                             const format::Allotment& allotment);

Outcome judge_settings(const format::Manifest& manifest, const StationLimits& limits);

} // namespace cardseal::trust
