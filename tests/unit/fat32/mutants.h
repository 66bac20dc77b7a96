// Damaged volumes from a seed, and what must hold of each: checker and reader end, and a volume
// that is called clean gives every file that its folders still name as before with the bytes of
// before.
#pragma once

#include <algorithm>
#include <map>
#include <random>

#include "fat32/reader.h"
#include "unit/fat32/volumes.h"

namespace cardseal::fat32::testing {

// A volume of which one sector after the other can be spoiled and put right again.
class Patched final : public SectorSource {
  MemoryCard& below_;

public:
  explicit Patched(MemoryCard& below) : below_(below) {}
  std::map<std::uint32_t, Sector> patches;
  std::uint32_t sectors = below_.sector_count(); // fewer: cut short
  bool read_past_end = false;

  std::uint32_t sector_count() const override { return sectors; }
  std::string name() const override { return "patched"; }
  Try<void> read(std::uint32_t lba, ByteSpan out) override {
    const std::uint64_t end = lba + out.size() / 512;
    read_past_end = read_past_end || end > sectors;
    if (Try<void> done = below_.read(lba, out); !done) {
      return done;
    }
    for (auto at = patches.lower_bound(lba); at != patches.end() && at->first < end; ++at) {
      copy(out.subspan(std::size_t{at->first - lba} * 512, 512), at->second);
    }
    return {};
  }
};

class Mutator {
public:
  Mutator(MadeVolume& made, std::uint32_t seed) : made_(made), random_(seed) {
    const VolumeShape& shape = made.plan.shape;
    for (const PlannedFolder& folder : made.plan.folders) {
      for (std::uint32_t i = 0; i < folder.cluster_count; ++i) {
        folder_lbas_.push_back(shape.lba_of(folder.first_cluster + i));
      }
    }
  }

  void mutate(Patched& card) {
    const VolumeShape& shape = made_.plan.shape;
    for (auto times = 1 + random_() % 4; times > 0; --times) {
      switch (random_() % 8) {
      case 0:
        spoil_at(card, shape.partition_lba, 0, 90);
        break;
      case 1:
        spoil_at(card, 0, 446, 66);
        break;
      case 2:
        spoil_at(card, shape.fat_lba(random_() % 2) + sector_in_fat(), 0, 512);
        break;
      case 3: // in both, so that no comparison finds it
        spoil_at(card, shape.fat_lba(0) + sector_in_fat(), 0, 512);
        copy_fat(card);
        break;
      case 4: // FSInfo, the copies behind
        spoil_at(card, shape.partition_lba + 1 + random_() % 8, 0, 512);
        break;
      default:
        spoil_at(card, folder_lbas_[random_() % folder_lbas_.size()], 0, 512);
      }
    }
    if (random_() % 4 == 0) { // no second FAT to compare with: the damage gets further
      Sector& boot = patch(card, shape.partition_lba);
      boot[16] = 1;
      store_le32(&boot[36], shape.fat_sectors * 2);
    }
  }

private:
  std::uint32_t sector_in_fat() { return static_cast<std::uint32_t>(random_() % 6); }

  Sector& patch(Patched& card, std::uint32_t lba) {
    auto at = card.patches.find(lba);
    if (at == card.patches.end()) {
      at = card.patches.emplace(lba, sector_of(made_.card, lba)).first;
    }
    return at->second;
  }

  void copy_fat(Patched& card) {
    const VolumeShape& shape = made_.plan.shape;
    for (std::uint32_t i = 0; i < 6; ++i) {
      if (card.patches.count(shape.fat_lba(0) + i) != 0) {
        patch(card, shape.fat_lba(1) + i) = patch(card, shape.fat_lba(0) + i);
      }
    }
  }

  std::uint32_t interesting() {
    constexpr std::uint32_t values[] = {0,          1,          2,          3,          0xFF,
                                        0xFFFF,     0x10000,    0x7FFFFFFF, 0x80000000, 0xFFFFFFFF,
                                        0x0FFFFFF7, 0x0FFFFFF8, 0x0FFFFFFF, 65524,      65542};
    return random_() % 3 == 0 ? static_cast<std::uint32_t>(random_())
                              : values[random_() % std::size(values)];
  }

  void spoil_at(Patched& card, std::uint32_t lba, std::size_t first, std::size_t count) {
    Sector& sector = patch(card, lba);
    const std::size_t at = first + random_() % count;
    if (random_() % 2 == 0) {
      sector[at] = static_cast<std::uint8_t>(random_());
    } else {
      store_le32(&sector[std::min<std::size_t>(at, 508)], interesting());
    }
  }

  MadeVolume& made_;
  std::mt19937 random_;
  std::vector<std::uint32_t> folder_lbas_;
};

struct Judged {
  bool clean = false; // the checker has nothing against it
  bool opened = false;
  bool changed = false;         // clean, and its folders name something else than before
  std::string wrong;            // what must never be; empty: nothing
  std::vector<io::Bytes> files; // contents, when clean and opened
};

// The same name, length and place as before, in a clean volume, and other bytes.
inline std::string wrong_bytes(const MadeVolume& made, const Entry& entry, const io::Bytes& bytes) {
  const PlannedFile* planned = made.plan.find(entry.path);
  const bool as_before = planned != nullptr && planned->size == entry.size &&
                         planned->first_cluster == entry.first_cluster;
  return as_before && bytes != content_of(*planned) ? entry.path + " has other bytes"
                                                    : std::string();
}

inline Judged judge(const MadeVolume& made, Patched& card) {
  Judged out;
  Try<CheckReport> report = check_volume(card);
  if (!report) {
    out.wrong = "no report";
    return out;
  }
  out.clean = report->clean();
  Try<Volume> volume = Volume::open(card);
  out.opened = volume.has_value();
  std::size_t as_before = 0;
  for (std::size_t i = 0; volume && i < volume->entries().size(); ++i) {
    const Entry& entry = volume->entries()[i];
    if (entry.folder) {
      continue;
    }
    Try<io::Bytes> bytes = volume->read_all(entry, 0xFFFFFFFF);
    if (!bytes) {
      out.wrong = entry.path + " is listed and can't be read";
    } else if (out.clean) {
      const PlannedFile* planned = made.plan.find(entry.path);
      as_before += planned != nullptr && planned->size == entry.size &&
                           planned->first_cluster == entry.first_cluster
                       ? 1
                       : 0;
      out.wrong = out.wrong.empty() ? wrong_bytes(made, entry, *bytes) : out.wrong;
      out.files.push_back(std::move(*bytes));
    }
  }
  out.changed = out.clean && out.opened &&
                (as_before != made.plan.files.size() || out.files.size() != as_before);
  out.wrong = card.read_past_end ? "sectors past the end were read" : out.wrong;
  return out;
}

} // namespace cardseal::fat32::testing
