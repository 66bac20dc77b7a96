// Everything that is wrong with a FAT32 volume, each fault under its own rule (fat32/rules.h), with
// sector and offset. A card is fine when there is no finding but notes. Bounded like the reader.
#pragma once

#include <optional>

#include "fat32/reader.h"
#include "fat32/rules.h"

namespace cardseal::fat32 {

struct CheckReport {
  Findings findings;
  std::optional<FoundShape> shape; // nothing when there is no volume to speak of
  std::vector<Entry> entries;      // as far as they could be read
  bool clean() const {
    return findings.count(Severity::refuse) == 0 && findings.count(Severity::warn) == 0;
  }
};

// An error only when the source can't be read.
Try<CheckReport> check_volume(SectorSource& source);

} // namespace cardseal::fat32
