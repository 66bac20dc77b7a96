// Each fault is made on a real volume and must be found by its own rule.
#include <algorithm>
#include <functional>

#include "fat32/reader.h"
#include "support/catch.h"
#include "unit/fat32/volumes.h"

using namespace cardseal;
using namespace cardseal::fat32;
using namespace cardseal::fat32::testing;
namespace fat = cardseal::format::fat;

namespace {

// A made volume with means to spoil it.
struct Spoiled {
  MadeVolume made;

  const VolumeShape& shape() const { return made.plan.shape; }
  void put(std::uint32_t lba, std::size_t offset, std::vector<std::uint8_t> bytes) {
    Sector sector = sector_of(made.card, lba);
    std::copy(bytes.begin(), bytes.end(), sector.begin() + static_cast<std::ptrdiff_t>(offset));
    REQUIRE(made.card.write(lba, sector).has_value());
  }
  void put32(std::uint32_t lba, std::size_t offset, std::uint32_t value) {
    std::vector<std::uint8_t> bytes(4);
    store_le32(bytes.data(), value);
    put(lba, offset, bytes);
  }
  // In the boot sector and its copy.
  void put_boot(std::size_t offset, const std::vector<std::uint8_t>& bytes) {
    put(shape().partition_lba, offset, bytes);
    put(shape().partition_lba + 6, offset, bytes);
  }
  void put_boot32(std::size_t offset, std::uint32_t value) {
    std::vector<std::uint8_t> bytes(4);
    store_le32(bytes.data(), value);
    put_boot(offset, bytes);
  }
  std::uint32_t entry(std::uint32_t cluster) {
    return load_le32(&sector_of(made.card, shape().fat_lba(0) + cluster / 128)[cluster % 128 * 4]);
  }
  void put_entry(std::uint32_t cluster, std::uint32_t value) { // in both FATs
    put32(shape().fat_lba(0) + cluster / 128, cluster % 128 * 4, value);
    put32(shape().fat_lba(1) + cluster / 128, cluster % 128 * 4, value);
  }
  void add_free(int change) {
    for (const std::uint32_t sector : {1U, 7U}) {
      const std::uint32_t lba = shape().partition_lba + sector;
      put32(lba, 488,
            load_le32(&sector_of(made.card, lba)[488]) + static_cast<std::uint32_t>(change));
    }
  }
  std::uint32_t lba_of_folder(const std::string& path) {
    for (const PlannedFolder& each : made.plan.folders) {
      if (each.path == path) {
        return shape().lba_of(each.first_cluster);
      }
    }
    throw std::runtime_error("no folder " + path);
  }
  const PlannedFile& file_at(const std::string& path) { return *made.plan.find(path); }
  // Sector and offset of the short entry whose name starts so.
  std::pair<std::uint32_t, std::size_t> entry_named(std::uint32_t lba, const std::string& start) {
    for (;; ++lba) {
      const Sector sector = sector_of(made.card, lba);
      for (std::size_t at = 0; at < 512; at += 32) {
        if (sector[at + 11] != 0x0F &&
            equal(ByteView(sector).subspan(at, start.size()), bytes_of(start))) {
          return {lba, at};
        }
        if (sector[at] == 0) {
          throw std::runtime_error("no entry " + start);
        }
      }
    }
  }
};

struct MadeFault {
  const char* name;
  std::function<void(Spoiled&)> make;
  const Rule* rule;
  bool alone; // nothing else is found
};

const MadeFault faults[] = {
    {"second FAT differs", [](Spoiled& s) { s.put32(s.shape().fat_lba(1) + 1, 8, 0x0FFFFFFF); },
     &rules::fats_differ, true},
    {"FSInfo free count wrong", [](Spoiled& s) { s.put32(s.shape().partition_lba + 1, 488, 77); },
     &rules::fsinfo, true},
    {"FSInfo unknown", [](Spoiled& s) { s.put32(s.shape().partition_lba + 1, 488, 0xFFFFFFFF); },
     &rules::fsinfo, true},
    {"FSInfo hint past the end",
     [](Spoiled& s) { s.put32(s.shape().partition_lba + 1, 492, s.shape().cluster_count + 2); },
     &rules::fsinfo, true},
    {"FSInfo signature", [](Spoiled& s) { s.put32(s.shape().partition_lba + 1, 484, 0); },
     &rules::fsinfo, true},
    {"backup boot sector wrong", [](Spoiled& s) { s.put(s.shape().partition_lba + 6, 67, {9}); },
     &rules::backup_boot, true},
    {"cross-linked chains",
     [](Spoiled& s) {
       const PlannedFile& a = s.file_at("FROST.CRP");
       s.put_entry(a.first_cluster + 3, s.file_at("LAST.BIN").first_cluster + 5);
     },
     &rules::cross_link, false},
    {"two files with one first cluster",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder(""), "CARD    SIG");
       const std::uint32_t cluster = s.file_at("ONE.BIN").first_cluster;
       s.put(lba, at + 26,
             {static_cast<std::uint8_t>(cluster), static_cast<std::uint8_t>(cluster >> 8)});
     },
     &rules::cross_link, false},
    {"long-name checksum",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder(""), "DOCS ");
       s.put(lba, at, {'D', 'O', 'C', 'X'});
     },
     &rules::long_checksum, true},
    {"long-name parts out of order",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder(""), "DOCS ");
       s.put(lba, at - 32, {3});
     },
     &rules::long_orphan, true},
    {"`..` wrong", [](Spoiled& s) { s.put(s.lba_of_folder("DEEP/L1/L2"), 32 + 26, {0}); },
     &rules::dotdot, true},
    {"`..` under the root is the root's cluster",
     [](Spoiled& s) { s.put(s.lba_of_folder("DEEP"), 32 + 26, {2}); }, &rules::dotdot, true},
    {"`.` wrong", [](Spoiled& s) { s.put(s.lba_of_folder("DEEP"), 26, {0}); }, &rules::dot, true},
    {"no `..`", [](Spoiled& s) { s.put(s.lba_of_folder("NOTHING"), 32, {0}); }, &rules::dotdot,
     true},
    {"65524 clusters",
     [](Spoiled& s) {
       const VolumeShape& shape = s.shape();
       const std::uint32_t lost = shape.cluster_count - 65524;
       s.put_boot32(32, shape.total_sectors - lost);
       s.add_free(-static_cast<int>(lost));
     },
     &rules::few_clusters, true},
    {"65525 clusters",
     [](Spoiled& s) {
       const VolumeShape& shape = s.shape();
       const std::uint32_t lost = shape.cluster_count - 65525;
       s.put_boot32(32, shape.total_sectors - lost);
       s.add_free(-static_cast<int>(lost));
     },
     &rules::near_border, true},
    {"total sectors past the end",
     [](Spoiled& s) {
       s.put_boot32(32, s.shape().total_sectors + 3);
       s.add_free(3);
     },
     &rules::past_end, true},
    {"partition past the end", [](Spoiled& s) { s.put32(0, 458, s.shape().total_sectors + 1); },
     &rules::past_end, true},
    {"top nibble set in a chain",
     [](Spoiled& s) {
       const std::uint32_t cluster = s.file_at("LAST.BIN").first_cluster + 1;
       s.put_entry(cluster, s.entry(cluster) | 0xF0000000);
     },
     &rules::top_nibble, true},
    {"FAT[0] is not the media byte", [](Spoiled& s) { s.put_entry(0, 0x0FFFFFF0); },
     &rules::media_entry, true},
    {"no FAT32 text",
     [](Spoiled& s) {
       s.put_boot(82, {'F', 'A', 'T', ' ', ' '});
     },
     &rules::type_text, true},
    {"mirroring off, first FAT junk",
     [](Spoiled& s) {
       s.put_boot(40, {0x81});
       for (std::uint32_t i = 0; i < s.shape().fat_sectors; ++i) {
         s.put(s.shape().fat_lba(0) + i, 0, std::vector<std::uint8_t>(512, 0x5A));
       }
     },
     &rules::mirroring, true},
    {"chain shorter than the file",
     [](Spoiled& s) {
       const PlannedFile& file = s.file_at("LAST.BIN");
       s.put_entry(file.first_cluster + file.cluster_count - 2, 0x0FFFFFFF);
       s.put_entry(file.first_cluster + file.cluster_count - 1, 0);
       s.add_free(1);
     },
     &rules::chain_short, true},
    {"size without a cluster",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder(""), "EMPTY   TXT");
       s.put(lba, at + 28, {5});
     },
     &rules::chain_short, true},
    {"chain longer than the file",
     [](Spoiled& s) {
       const PlannedFile& file = s.file_at("LAST.BIN");
       const std::uint32_t last = file.first_cluster + file.cluster_count - 1;
       const std::uint32_t next = s.made.plan.used_clusters + 2;
       s.put_entry(last, next);
       s.put_entry(next, 0x0FFFFFFF);
       s.add_free(-1);
     },
     &rules::chain_long, true},
    {"a cluster without a size",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder(""), "ONE     BIN");
       s.put32(lba, at + 28, 0);
     },
     &rules::chain_long, true},
    {"loop",
     [](Spoiled& s) {
       const PlannedFile& file = s.file_at("LAST.BIN");
       s.put_entry(file.first_cluster + file.cluster_count - 1, file.first_cluster + 7);
     },
     &rules::loop, true},
    {"folder that holds itself",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder("DEEP/L1"), "L2 ");
       const std::uint32_t cluster = s.made.plan.folders[0].first_cluster;
       s.put(lba, at + 26, {static_cast<std::uint8_t>(cluster), 0});
     },
     &rules::cross_link, false},
    {"chain into a free cluster",
     [](Spoiled& s) {
       s.put_entry(s.file_at("LAST.BIN").first_cluster + s.file_at("LAST.BIN").cluster_count - 1,
                   s.made.plan.used_clusters + 9);
     },
     &rules::chain_broken, false},
    {"chain past the last cluster",
     [](Spoiled& s) {
       s.put_entry(s.file_at("ONE.BIN").first_cluster, s.shape().cluster_count + 2);
     },
     &rules::chain_broken, true},
    {"jump zero",
     [](Spoiled& s) {
       s.put_boot(0, {0, 0, 0});
     },
     &rules::jump, true},
    {"version 1", [](Spoiled& s) { s.put_boot(42, {1}); }, &rules::version, true},
    {"entry after the end entry",
     [](Spoiled& s) {
       s.put(s.lba_of_folder("NOTHING"), 96,
             {'G', 'H', 'O', 'S', 'T', ' ', ' ', ' ', ' ', ' ', ' ', 0x20});
     },
     &rules::after_end, true},
    {"both totals set",
     [](Spoiled& s) {
       s.put_boot(19, {1, 0});
     },
     &rules::both_totals, true},
    {"16-bit FAT size",
     [](Spoiled& s) {
       s.put_boot(22, {1, 0});
     },
     &rules::boot_field, true},
    {"three FATs", [](Spoiled& s) { s.put_boot(16, {3}); }, &rules::boot_field, true},
    {"media byte", [](Spoiled& s) { s.put_boot(21, {0xF1}); }, &rules::boot_field, true},
    {"root cluster 1", [](Spoiled& s) { s.put_boot(44, {1}); }, &rules::boot_field, true},
    {"no signature", [](Spoiled& s) { s.put_boot(510, {0}); }, &rules::boot_field, true},
    {"FAT too small",
     [](Spoiled& s) {
       s.put_boot(36, {9, 0});
     },
     &rules::fat_small, true},
    {"hidden sectors", [](Spoiled& s) { s.put_boot(28, {1}); }, &rules::hidden_sectors, true},
    {"in use, says the boot sector", [](Spoiled& s) { s.put(s.shape().partition_lba, 65, {1}); },
     &rules::dirty, true},
    {"not closed", [](Spoiled& s) { s.put_entry(1, 0x07FFFFFF); }, &rules::dirty, true},
    {"lost cluster",
     [](Spoiled& s) {
       s.put_entry(s.made.plan.used_clusters + 10, 0x0FFFFFFF);
       s.add_free(-1);
     },
     &rules::lost_clusters, true},
    {"bad cluster",
     [](Spoiled& s) {
       s.put_entry(s.made.plan.used_clusters + 10, 0x0FFFFFF7);
       s.add_free(-1);
     },
     &rules::bad_clusters, true},
    {"illegal name",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder(""), "EMPTY   TXT");
       s.put(lba, at + 2, {'/'});
     },
     &rules::name, true},
    {"long name of no letters",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder("Documents for people"), "N  ");
       s.put(lba, at - 31, {0, 0});
     },
     &rules::name, true},
    {"long name that goes on behind its end",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder("Documents for people"), "N  ");
       s.put(lba, at - 31 + 4, {'x', 0}); // behind "n" and its end
     },
     &rules::name, true},
    {"duplicate name",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder(""), "EMPTY   TXT");
       s.put(lba, at, {'O', 'N', 'E', ' ', ' ', ' ', ' ', ' ', 'B', 'I', 'N'});
     },
     &rules::duplicate, true},
    {"label differs", [](Spoiled& s) { s.put_boot(71, {'X'}); }, &rules::label, true},
    {"folder with a size",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder(""), "NOTHING ");
       s.put(lba, at + 28, {1});
     },
     &rules::folder_size, true},
    {"no time of writing",
     [](Spoiled& s) {
       const auto [lba, at] = s.entry_named(s.lba_of_folder(""), "ONE     BIN");
       s.put(lba, at + 22, {0, 0, 0, 0});
     },
     &rules::time, true},
    {"no partition", [](Spoiled& s) { s.put(0, 450, {0x07}); }, &rules::no_volume, true},
    {"sector 0 unsigned",
     [](Spoiled& s) {
       s.put(0, 510, {0, 0});
     },
     &rules::no_volume, true},
};

std::string found_in(const Findings& findings) {
  std::string text;
  for (const Finding& finding : findings.kept()) {
    text += std::string(finding.rule->id) + ", " + finding.place.item + ": " + finding.text + "\n";
  }
  return text;
}

bool stops(const Rule* rule) {
  return std::find(std::begin(rules::stop_reading), std::end(rules::stop_reading), rule) !=
         std::end(rules::stop_reading);
}

} // namespace

TEST_CASE("each fault of a volume is found under its own code with its sector") {
  const MadeVolume good = make_volume(sample_options(), sample_tree());
  for (const MadeFault& fault : faults) {
    Spoiled spoiled{good};
    fault.make(spoiled);
    Try<CheckReport> report = check_volume(spoiled.made.card);
    REQUIRE(report.has_value());
    INFO(fault.name << "\n" << found_in(report->findings));
    CHECK(report->findings.count(*fault.rule) >= 1);
    CHECK(report->clean() == (fault.rule->severity == Severity::note));
    if (fault.alone) {
      CHECK(report->findings.kept().size() == report->findings.count(*fault.rule));
    }
    for (const Finding& finding : report->findings.kept()) {
      CHECK_THAT(finding.place.item, ContainsSubstring("sector "));
      CHECK_THAT(finding.place.item, ContainsSubstring(", offset "));
    }
    Try<Volume> volume = Volume::open(spoiled.made.card);
    CHECK(volume.has_value() == !stops(fault.rule));
    if (!volume) {
      CHECK(volume.error().kind == ErrorKind::refused);
    } else if (const Entry* entry = volume->find("LAST.BIN")) {
      const Try<io::Bytes> bytes = volume->read_all(*entry, entry->size);
      REQUIRE(bytes.has_value());
      CHECK(*bytes == content_of(*spoiled.made.plan.find("LAST.BIN")));
    }
  }
}

TEST_CASE("a finding names the very sector and offset") {
  Spoiled spoiled{make_volume(sample_options(), sample_tree())};
  spoiled.put(spoiled.shape().partition_lba + 6, 67, {9});
  const Try<CheckReport> report = check_volume(spoiled.made.card);
  REQUIRE(report.has_value());
  CHECK(report->findings.kept().at(0).place.item == "sector 8198, offset 67");
  CHECK(report->findings.kept().at(0).place.file == "memory");
}

TEST_CASE("every rule has one id and belongs to the list") {
  for (const Rule* rule : rules::all) {
    const auto same = std::count_if(std::begin(rules::all), std::end(rules::all),
                                    [&](const Rule* other) { return other->id == rule->id; });
    CHECK(same == 1);
    CHECK(rule->id.substr(0, 6) == "fat32-");
    CHECK_FALSE(rule->title.empty());
  }
  for (const Rule* rule : rules::stop_reading) {
    CHECK(rule->severity == Severity::refuse);
  }
}

// What other writers do and the specification lets them do.
TEST_CASE("legal oddities are read without a finding") {
  VolumeOptions options = sample_options();
  options.partitioned = false;
  Spoiled spoiled{make_volume(options, sample_tree())};
  const auto root = spoiled.shape().data_lba();
  spoiled.put_boot(21, {0xF0}); // removable medium
  spoiled.put_entry(0, 0x0FFFFFF0);
  const PlannedFile& one = spoiled.file_at("ONE.BIN");
  spoiled.put_entry(one.first_cluster, 0x0FFFFFF8); // another end mark
  const auto [lba, at] = spoiled.entry_named(root, "ONE     BIN");
  spoiled.put(lba, at + 12, {0x18}); // shown in lower case
  Try<CheckReport> report = check_volume(spoiled.made.card);
  REQUIRE(report.has_value());
  CHECK(found_in(report->findings) == "");
  CHECK(std::any_of(report->entries.begin(), report->entries.end(),
                    [](const Entry& each) { return each.path == "one.bin"; }));

  // The root moved to another cluster.
  const std::uint32_t moved = spoiled.made.plan.used_clusters + 40;
  for (std::uint32_t i = 0; i < spoiled.made.plan.folders[0].cluster_count; ++i) {
    REQUIRE(spoiled.made.card
                .write(spoiled.shape().lba_of(moved + i), sector_of(spoiled.made.card, root + i))
                .has_value());
    const bool last = i + 1 == spoiled.made.plan.folders[0].cluster_count;
    spoiled.put_entry(moved + i, last ? 0x0FFFFFFF : moved + i + 1);
    spoiled.put_entry(2 + i, 0);
  }
  spoiled.put_boot32(44, moved);
  report = check_volume(spoiled.made.card);
  REQUIRE(report.has_value());
  CHECK(found_in(report->findings) == "");
}
