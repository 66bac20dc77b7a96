// Cluster chains, each cluster claimed by the one chain that it belongs to. Inside fat32 only.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "fat32/check_parts.h"

namespace cardseal::fat32 {

struct Chain {
  std::vector<Extent> extents; // whole clusters
  std::uint32_t cluster_count = 0;
  bool whole = true; // ended with an end mark
};

class Chains {
public:
  Chains(Check& check, const std::vector<std::uint32_t>& fat);

  // Walks a chain up to its end mark or a fault and claims it for `owner`, which messages name.
  // `told_at` is where its first cluster is told.
  Chain follow(std::uint32_t first, const std::string& owner, Spot told_at);
  // After all chains: clusters in use that none claimed, and bad ones.
  void report_rest();

private:
  bool is_cluster(std::uint32_t number) const;
  void add_fault(const Rule& rule, std::uint32_t cluster, std::string text);
  bool claim(std::uint32_t cluster);

  Check& check_;
  const FoundShape& shape_;
  const std::vector<std::uint32_t>& fat_;
  std::vector<std::uint32_t> owner_of_; // by cluster; 0: nobody, else 1 + index into owners_
  std::vector<std::string> owners_;
};

} // namespace cardseal::fat32
