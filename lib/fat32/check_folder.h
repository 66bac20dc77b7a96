// The entries of one folder, read one after the other. Inside fat32 only.
#pragma once

#include <array>
#include <cstdint>
#include <set>
#include <string>
#include <vector>

#include "fat32/check_parts.h"

namespace cardseal::fat32 {

std::string below(const std::string& folder, const std::string& name); // the path

struct FolderToRead {
  std::string path; // empty for the root
  std::uint32_t first_cluster = 0;
  std::uint32_t above = 0; // what its `..` must tell
  std::uint32_t depth = 0; // 0 for the root
};

// A file or folder that was found, and where.
struct FoundEntry {
  Entry entry; // path holds the name alone; no extents yet
  Spot place;
};

class FolderReader {
public:
  FolderReader(Check& check, const FolderToRead& folder) : check_(check), folder_(folder) {}

  // All entries in order, 32 bytes each.
  void take(Spot spot, ByteView bytes);
  void finish();
  std::vector<FoundEntry>& found() { return found_; }

private:
  void add(const Rule& rule, std::string text) { check_.add(rule, spot_, std::move(text)); }
  void take_long(ByteView bytes);
  void take_short(ByteView bytes);
  void take_label(ByteView bytes);
  void take_dots(ByteView bytes, std::size_t dots);
  bool take_names(ByteView bytes, Entry& entry);
  void keep_name(const std::u16string& folded_name, const std::string& shown);
  void drop_long(); // reports what has no short entry

  Check& check_;
  const FolderToRead& folder_;
  std::vector<FoundEntry> found_;
  std::set<std::u16string> names_;
  Spot spot_;
  std::uint32_t position_ = 0; // entries taken before this one
  bool ended_ = false;
  bool has_dots_[2] = {};
  bool has_label_ = false;
  // the long name being gathered
  std::u16string long_name_;
  std::uint32_t parts_left_ = 0;
  bool gathering_ = false;
  std::uint8_t checksum_ = 0;
};

} // namespace cardseal::fat32
