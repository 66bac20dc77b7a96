// A planned folder as the bytes of its clusters. Inside fat32 only.
#pragma once

#include <cstdint>
#include <vector>

#include "fat32/plan.h"

namespace cardseal::fat32 {

// cluster_count whole clusters: label (root) or `.` and `..`, the entries in order, zeros after.
std::vector<std::uint8_t> directory_bytes(const VolumePlan& plan, std::uint32_t folder);

} // namespace cardseal::fat32
