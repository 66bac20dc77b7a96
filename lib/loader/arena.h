// All memory the loader keeps between calls, given by the caller: at most 16 KiB. Crypto memory and
// stack come on top: measured at the call backs, the loader stands at most 5.3 KiB deep on x86-64.
//
// What is needed one after the other shares its place: the root in force, and the one that may
// follow it, until the trust list is judged, the card index while the files are hashed, the job
// from then on. `text` holds one sealed text at a time, and the image's blocks when the texts are
// done.
#pragma once

#include "format/card_texts.h"
#include "format/root.h"
#include "format/trust_list.h"
#include "loader/card_volume.h"
#include "loader/station_memory.h"
#include "trust/job_rules.h"

namespace cardseal::loader {

struct Job { // what a station acts on, after admission
  CardFile file;
  format::Source package;
  format::Manifest manifest;
  trust::PackageVerdict verdict;
  format::Allotment allotment;
  trust::KeptAllotment used; // of the allotment
  format::CardId card_id{};
  format::LogExtent log; // what of the card's run log is for this allotment's records
};

inline constexpr std::size_t arena_limit = 16'384; // bytes
inline constexpr std::size_t text_size = 8192;

struct Arena {
  struct Roots {
    format::Root now;
    format::Root next;
  };
  union Phases {
    Roots roots;
    format::CardIndex index;
    Job job;
    Phases() : roots() {}
  };
  union Stream { // not there before start_image
    trust::ImageStream stream;
    std::uint8_t none;
    Stream() : none(0) {}
  };

  std::array<std::uint8_t, text_size> text;
  format::TrustList list;
  Phases phase;
  Stream stream;
  Volume volume;
};

static_assert(sizeof(Arena) + sizeof(StationMemory) <= arena_limit);

} // namespace cardseal::loader
