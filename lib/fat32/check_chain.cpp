#include "fat32/check_chain.h"

#include "fat32/tree.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;

void append(Chain& chain, std::uint32_t lba, std::uint32_t sectors) {
  if (!chain.extents.empty()) {
    Extent& last = chain.extents.back();
    if (last.first_lba + last.sector_count == lba) {
      last.sector_count += sectors;
      return;
    }
  }
  chain.extents.push_back({lba, sectors});
}

} // namespace

Chains::Chains(Check& check, const std::vector<std::uint32_t>& entries)
    : check_(check), shape_(*check.report.shape), fat_(entries), owner_of_(entries.size(), 0) {}

bool Chains::is_cluster(std::uint32_t number) const {
  return number >= fat::first_cluster && number < fat_.size();
}

// At the FAT entry of this cluster.
void Chains::add_fault(const Rule& rule, std::uint32_t cluster, std::string text) {
  const std::uint32_t lba = shape_.fat_lba(shape_.active_fat) + cluster / fat::entries_per_sector;
  check_.add(rule, {lba, std::size_t{cluster % fat::entries_per_sector} * 4}, std::move(text));
}

bool Chains::claim(std::uint32_t cluster) {
  const auto own = static_cast<std::uint32_t>(owners_.size());
  std::uint32_t& owner = owner_of_[cluster];
  if (owner == 0) {
    owner = own;
    return true;
  }
  std::string text = "cluster " + std::to_string(cluster) + " of " + owners_[own - 1];
  if (owner == own) {
    add_fault(rules::loop, cluster, text + " comes a second time");
  } else {
    add_fault(rules::cross_link, cluster, text + " belongs to " + owners_[owner - 1]);
  }
  return false;
}

Chain Chains::follow(std::uint32_t first, const std::string& owner, Spot told_at) {
  owners_.push_back(in_quotes(owner.empty() ? "/" : owner));
  const std::string& shown = owners_.back();
  Chain chain;
  if (!is_cluster(first)) {
    chain.whole = false;
    check_.add(rules::chain_broken, told_at,
               "first cluster of " + shown + " is " + std::to_string(first) + ", expected 2 to " +
                   std::to_string(fat_.size() - 1));
    return chain;
  }
  bool nibble = false;
  for (std::uint32_t cluster = first;;) {
    if (!claim(cluster)) {
      chain.whole = false;
      return chain;
    }
    append(chain, shape_.lba_of(cluster), shape_.sectors_per_cluster);
    ++chain.cluster_count;
    const std::uint32_t next = fat_[cluster] & fat::entry_mask;
    if (next != fat_[cluster] && !nibble) {
      nibble = true;
      add_fault(rules::top_nibble, cluster,
                "entry " + std::to_string(cluster) + " of " + shown + " is " +
                    hex_text(fat_[cluster]));
    }
    if (next >= fat::entry_end_min) {
      return chain;
    }
    if (!is_cluster(next)) {
      chain.whole = false;
      add_fault(rules::chain_broken, cluster,
                "entry " + std::to_string(cluster) + " of " + shown + " is " + hex_text(next) +
                    (next == fat::entry_free  ? ", which is free"
                     : next == fat::entry_bad ? ", which is the mark of a bad cluster"
                                              : ", which is no cluster"));
      return chain;
    }
    cluster = next;
  }
}

void Chains::report_rest() {
  std::uint32_t lost = 0;
  std::uint32_t first_lost = 0;
  std::uint32_t bad = 0;
  std::uint32_t first_bad = 0;
  for (std::uint32_t cluster = fat::first_cluster; cluster < fat_.size(); ++cluster) {
    const std::uint32_t entry = fat_[cluster] & fat::entry_mask;
    if (entry == fat::entry_free) {
      continue;
    }
    if (entry == fat::entry_bad) {
      first_bad = bad++ == 0 ? cluster : first_bad;
    } else if (owner_of_[cluster] == 0) {
      first_lost = lost++ == 0 ? cluster : first_lost;
    }
  }
  if (lost != 0) {
    add_fault(rules::lost_clusters, first_lost,
              std::to_string(lost) + " clusters in use belong to no file, the first is " +
                  std::to_string(first_lost));
  }
  if (bad != 0) {
    add_fault(rules::bad_clusters, first_bad,
              std::to_string(bad) + " clusters are marked bad, the first is " +
                  std::to_string(first_bad));
  }
}

} // namespace cardseal::fat32
