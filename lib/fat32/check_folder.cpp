#include "fat32/check_folder.h"

#include <algorithm>

#include "fat32/tree.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;
namespace entry = format::fat::entry;
namespace long_entry = format::fat::long_entry;

bool is_long(std::uint8_t attributes) {
  return (attributes & entry::attribute_mask) == entry::long_name;
}

ShortName short_name_of(ByteView bytes) {
  ShortName name{};
  std::copy_n(bytes.begin(), name.size(), name.begin());
  return name;
}

std::uint32_t cluster_of(ByteView bytes) {
  return (static_cast<std::uint32_t>(load_le16(&bytes[entry::cluster_high])) << 16) |
         load_le16(&bytes[entry::cluster_low]);
}

// Its units end with 0x0000 and ones behind it, or fill the last entry; some are there (Microsoft
// FAT specification (2005), 7). Readers differ about what stands behind the end.
bool ends_well(const std::u16string& units) {
  constexpr char16_t padding = 0xFFFF;
  const std::size_t end = std::min(units.find(u'\0'), units.size());
  const std::size_t rest = std::min(end + 1, units.size());
  return end != 0 && units.size() - end <= long_entry::units && units.find(padding) >= rest &&
         std::all_of(units.begin() + static_cast<std::ptrdiff_t>(rest), units.end(),
                     [](char16_t unit) { return unit == padding; });
}

// Legal bytes [6.1]; those above 0x7F depend on a code page and are let through.
bool is_legal(const ShortName& name) {
  if (name[0] == ' ') {
    return false;
  }
  return std::all_of(name.begin(), name.end(), [](std::uint8_t c) {
    return c >= 0x20 && c != 0x7F && !(c >= 'a' && c <= 'z') &&
           std::string_view("\"*+,./:;<=>?[\\]|").find(static_cast<char>(c)) ==
               std::string_view::npos;
  });
}

void lower(std::string& text, std::size_t from, std::size_t end) {
  for (std::size_t i = from; i < end && i < text.size(); ++i) {
    if (text[i] >= 'A' && text[i] <= 'Z') {
      text[i] = static_cast<char>(text[i] - 'A' + 'a');
    }
  }
}

// "Name.ext" as the lower-case bits want it shown.
std::string cased_text(ShortName name, std::uint8_t bits) {
  if (name[0] == entry::mark_kanji) {
    name[0] = entry::mark_deleted;
  }
  std::string text = text_from(name);
  const std::size_t dot = std::min(text.find('.'), text.size());
  if ((bits & entry::lower_base) != 0) {
    lower(text, 0, dot);
  }
  if ((bits & entry::lower_extension) != 0) {
    lower(text, dot, text.size());
  }
  return text;
}

} // namespace

std::string below(const std::string& folder, const std::string& name) {
  return folder.empty() ? name : folder + "/" + name;
}

void FolderReader::take(Spot spot, ByteView bytes) {
  spot_ = spot;
  const std::uint8_t first = bytes[entry::name];
  if (ended_) {
    if (first != entry::mark_end && first != entry::mark_deleted) {
      add(rules::after_end, "an entry stands after the end entry of " +
                                in_quotes(folder_.path.empty() ? "/" : folder_.path));
    }
    return;
  }
  if (first == entry::mark_end) {
    ended_ = true;
    drop_long();
  } else if (first == entry::mark_deleted) {
    drop_long();
  } else if (is_long(bytes[entry::attributes])) {
    take_long(bytes);
  } else if ((bytes[entry::attributes] & entry::volume_id) != 0) {
    take_label(bytes);
  } else if (folder_.depth != 0 && position_ < 2) {
    take_dots(bytes, position_ + 1);
  } else {
    take_short(bytes);
  }
  ++position_;
}

void FolderReader::drop_long() {
  if (gathering_) {
    add(rules::long_orphan, "long-name entries before this one have no short entry");
  }
  gathering_ = false;
  long_name_.clear();
}

void FolderReader::take_long(ByteView bytes) {
  const std::uint8_t ordinal = bytes[long_entry::ordinal];
  const std::uint32_t part = ordinal & long_entry::ordinal_mask;
  const bool last = (ordinal & long_entry::last_flag) != 0;
  if (last) {
    drop_long();
  }
  const bool follows = last ? part >= 1 && part <= long_entry::max_entries
                            : gathering_ && parts_left_ > 1 && part == parts_left_ - 1 &&
                                  bytes[long_entry::checksum] == checksum_;
  if (!follows) {
    if (!gathering_) {
      add(rules::long_orphan,
          "long-name entry has number " + std::to_string(ordinal) + " without the ones before it");
    }
    drop_long();
    return;
  }
  gathering_ = true;
  parts_left_ = part;
  checksum_ = bytes[long_entry::checksum];
  std::u16string units;
  for (const std::uint8_t at : long_entry::unit_offset) {
    units += static_cast<char16_t>(load_le16(&bytes[at]));
  }
  long_name_.insert(0, units);
}

void FolderReader::take_label(ByteView bytes) {
  drop_long();
  if (folder_.depth != 0 || has_label_) {
    add(rules::label, "a volume label stands where none belongs");
    return;
  }
  has_label_ = true;
  const std::string found(text_of(bytes.first(entry::name_bytes)));
  if (found != check_.report.shape->label) {
    add(rules::label, "label is " + in_quotes(found) + " here and " +
                          in_quotes(check_.report.shape->label) + " in the boot sector");
  }
}

void FolderReader::take_dots(ByteView bytes, std::size_t dots) {
  drop_long();
  has_dots_[dots - 1] = true;
  const Rule& rule = dots == 1 ? rules::dot : rules::dotdot;
  ShortName expected_name;
  expected_name.fill(' ');
  std::fill_n(expected_name.begin(), dots, std::uint8_t{'.'});
  const std::uint32_t expected = dots == 1 ? folder_.first_cluster : folder_.above;
  if (short_name_of(bytes) != expected_name || (bytes[entry::attributes] & entry::folder) == 0) {
    add(rule, "entry " + std::to_string(dots) + " of " + in_quotes(folder_.path) + " is not " +
                  in_quotes(std::string(dots, '.')));
  } else if (cluster_of(bytes) != expected) {
    add(rule, in_quotes(std::string(dots, '.')) + " of " + in_quotes(folder_.path) +
                  " tells cluster " + std::to_string(cluster_of(bytes)) + ", expected " +
                  std::to_string(expected));
  }
}

void FolderReader::keep_name(const std::u16string& folded_name, const std::string& shown) {
  if (!names_.insert(folded_name).second) {
    add(rules::duplicate, "name " + in_quotes(shown) + " is there twice in " +
                              in_quotes(folder_.path.empty() ? "/" : folder_.path));
  }
}

// The long name where it belongs to this entry, else the short one; false when neither is legal.
bool FolderReader::take_names(ByteView bytes, Entry& out) {
  const ShortName short_name = short_name_of(bytes);
  out.short_name = cased_text(short_name, 0);
  std::string name = cased_text(short_name, bytes[entry::case_bits]);
  if (gathering_ && parts_left_ == 1 && fat::long_name_checksum(short_name) == checksum_) {
    if (ends_well(long_name_)) {
      long_name_.resize(std::min(long_name_.find(u'\0'), long_name_.size()));
      name = to_utf8(long_name_);
    } else {
      add(rules::name, "long name of " + in_quotes(out.short_name) +
                           " has no letters, or goes on behind its end");
      long_name_.clear();
    }
    gathering_ = false;
  } else if (gathering_ && parts_left_ == 1) {
    add(rules::long_checksum, "long name has checksum " + hex_text(checksum_) + ", short name " +
                                  in_quotes(out.short_name) + " gives " +
                                  hex_text(fat::long_name_checksum(short_name)));
    gathering_ = false;
    long_name_.clear();
  } else {
    drop_long();
  }
  ShortName to_judge = short_name;
  to_judge[0] = to_judge[0] == entry::mark_kanji ? entry::mark_deleted : to_judge[0];
  const auto fault = long_name_.empty() ? std::nullopt : long_name_fault(name);
  if (!is_legal(to_judge) || fault) {
    add(rules::name, "name " + in_quotes(name) + " " + fault.value_or("is not legal"));
    return false;
  }
  const std::u16string short_folded = folded(short_name);
  const std::u16string long_folded = folded(long_name_);
  keep_name(short_folded, out.short_name);
  if (!long_folded.empty() && long_folded != short_folded) {
    keep_name(long_folded, name);
  }
  out.path = name;
  return true;
}

void FolderReader::take_short(ByteView bytes) {
  FoundEntry found;
  const bool named = take_names(bytes, found.entry);
  long_name_.clear();
  if (!named) {
    return;
  }
  Entry& out = found.entry;
  out.attributes = bytes[entry::attributes];
  out.folder = (out.attributes & entry::folder) != 0;
  out.first_cluster = cluster_of(bytes);
  const std::uint32_t size = load_le32(&bytes[entry::size]);
  out.size = out.folder ? 0 : size;
  if (out.folder && size != 0) {
    add(rules::folder_size, "folder " + in_quotes(below(folder_.path, out.path)) + " has size " +
                                std::to_string(size) + ", expected 0");
  }
  const fat::Stamp stamp{load_le16(&bytes[entry::written_date]),
                         load_le16(&bytes[entry::written_time]), 0};
  if (!fat::unpack_stamp(stamp, out.written)) {
    add(rules::time, "time of writing of " + in_quotes(below(folder_.path, out.path)) +
                         " is date " + hex_text(stamp.date) + " time " + hex_text(stamp.time));
  }
  found.place = spot_;
  found_.push_back(std::move(found));
}

void FolderReader::finish() {
  drop_long();
  for (std::size_t i = 0; i < 2 && folder_.depth != 0; ++i) {
    if (!has_dots_[i]) {
      add(i == 0 ? rules::dot : rules::dotdot,
          "folder " + in_quotes(folder_.path) + " has no entry " + in_quotes(i == 0 ? "." : ".."));
    }
  }
}

} // namespace cardseal::fat32
