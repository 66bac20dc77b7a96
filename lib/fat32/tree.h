// The names of a volume: from the caller's tree to folders and files with checked names, aliases
// and paths, in the plan's order. Inside fat32 only.
#pragma once

#include <vector>

#include "fat32/plan.h"

namespace cardseal::fat32 {

inline constexpr std::size_t max_depth = 32;        // folders within folders
inline constexpr std::size_t max_path_bytes = 1024; // of a folder's path, written or read

// Fills plan.folders and plan.files but for their clusters; plan.label is set before.
Try<void> name_tree(const std::vector<Node>& root, VolumePlan& plan);

// Directory entries that the folder takes, with label, `.` and `..`, without an end entry.
std::uint32_t entries_of(const VolumePlan& plan, std::uint32_t folder);

std::string in_quotes(std::string_view text); // escaped, between quotation marks

Error plan_error(std::string code, std::string what, std::string item, std::string found,
                 std::string expected, std::string hint);

} // namespace cardseal::fat32
