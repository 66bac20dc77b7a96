#include "fat32/tree.h"

#include <map>
#include <set>

#include "base/checked.h"
#include "base/utf8.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;

std::string joined(const std::string& folder, const std::string& name) {
  return folder.empty() ? name : folder + "/" + name;
}

const std::string& shown_name(const Node& node) {
  return node.long_name.empty() ? node.short_name : node.long_name;
}

bool is_all_harmless(std::string_view text) {
  while (!text.empty()) {
    const Utf8Char c = next_utf8(text);
    if (c.length == 0 || !is_harmless(c.code)) {
      return false;
    }
    text = slice(text, c.length);
  }
  return true;
}

// What is wrong with a node's own names, or nothing.
std::optional<Error> name_fault(const Node& node, const std::string& path) {
  const auto fault = [&path](std::string what, std::string_view name, std::string expected) {
    return plan_error("fat32-name", std::move(what), path, in_quotes(name), std::move(expected),
                      "rename it");
  };
  if (node.short_name.empty() && node.long_name.empty()) {
    return fault("a file or folder has no name", "", "a short or long name");
  }
  if (!node.short_name.empty() && !short_name_from(node.short_name)) {
    return fault("short name is not legal", node.short_name,
                 "8.3 characters of A-Z 0-9 !#$%&'()-@^_`{}~");
  }
  if (!node.long_name.empty()) {
    if (const auto why = long_name_fault(node.long_name)) {
      return fault("long name " + *why, node.long_name, "a name that every desktop can open");
    }
    if (!is_all_harmless(node.long_name)) {
      return fault("long name has characters that can't be seen", node.long_name,
                   "no bidirectional, zero-width or control characters");
    }
  }
  if (is_device_name(node.short_name) || is_device_name(node.long_name)) {
    return fault("name is kept for a device by common desktops", shown_name(node),
                 "any other name than CON, PRN, AUX, NUL, COM1-9, LPT1-9");
  }
  return std::nullopt;
}

// The names of one folder, without case, long and short together.
class NamesInFolder {
public:
  bool add(const std::u16string& name) { return names_.insert(name).second; }
  std::optional<ShortName> add_alias(const std::string& long_name, const std::u16string& own);

private:
  std::set<std::u16string> names_;
  std::map<ShortName, std::uint32_t> last_number_; // by the alias with ~1
};

// The first alias that is free: the plain one, else ~1, ~2 and so on.
std::optional<ShortName> NamesInFolder::add_alias(const std::string& long_name,
                                                  const std::u16string& own) {
  const auto plain = alias_of(long_name, 0);
  if (plain && (folded(*plain) == own || add(folded(*plain)))) {
    return plain;
  }
  std::uint32_t& number = last_number_[*alias_of(long_name, 1)];
  while (const auto alias = alias_of(long_name, ++number)) {
    if (folded(*alias) == own || add(folded(*alias))) {
      return alias;
    }
  }
  return std::nullopt;
}

class TreeNamer {
public:
  explicit TreeNamer(VolumePlan& plan) : plan_(plan) {}

  Try<void> add_children(const std::vector<Node>& children, std::uint32_t folder,
                         std::size_t depth);

private:
  Try<void> take_given(const std::vector<Node>& children, NamesInFolder& names,
                       const std::string& folder_path);
  Try<PlannedEntry> entry_for(const Node& node, NamesInFolder& names, const std::string& path);
  Try<void> add_file(const Node& node, const std::string& path, const std::string& short_path);
  Try<void> add_child(const Node& node, std::uint32_t folder, NamesInFolder& names,
                      std::size_t depth);

  VolumePlan& plan_;
};

Error duplicate(const std::string& path, const std::string& name) {
  return plan_error("fat32-duplicate", "two names in one folder are the same without their case",
                    path, in_quotes(name), "names that differ, long and short ones together",
                    "rename one of them");
}

// All given names are taken before any alias is made, so that an alias never pushes one aside.
Try<void> TreeNamer::take_given(const std::vector<Node>& children, NamesInFolder& names,
                                const std::string& folder_path) {
  for (const Node& node : children) {
    const std::string path = joined(folder_path, escaped(shown_name(node)));
    if (auto fault = name_fault(node, path)) {
      return Unexpected(std::move(*fault));
    }
    std::u16string long_name;
    to_utf16(node.long_name, long_name);
    long_name = folded(long_name);
    if (!long_name.empty() && !names.add(long_name)) {
      return Unexpected(duplicate(path, node.long_name));
    }
    if (const auto short_name = short_name_from(node.short_name)) {
      if (folded(*short_name) != long_name && !names.add(folded(*short_name))) {
        return Unexpected(duplicate(path, node.short_name));
      }
    }
  }
  return {};
}

Try<PlannedEntry> TreeNamer::entry_for(const Node& node, NamesInFolder& names,
                                       const std::string& path) {
  PlannedEntry entry;
  entry.folder = node.folder;
  const std::string& wish = shown_name(node);
  if (const auto given = short_name_from(node.short_name.empty() ? wish : node.short_name)) {
    entry.short_name = *given;
  } else {
    std::u16string own;
    to_utf16(node.long_name, own);
    own = folded(own);
    const auto alias = names.add_alias(node.long_name, own);
    if (!alias) {
      return Unexpected(plan_error("fat32-name", "no alias is left for a long name", path,
                                   in_quotes(wish), "at most 999999 names that begin alike",
                                   "give a short name"));
    }
    entry.short_name = *alias;
  }
  if (wish != text_from(entry.short_name)) {
    to_utf16(wish, entry.long_name);
  }
  return entry;
}

Try<void> TreeNamer::add_file(const Node& node, const std::string& path,
                              const std::string& short_path) {
  if (!node.children.empty()) {
    return Unexpected(plan_error("fat32-name", "a file has children", path,
                                 std::to_string(node.children.size()), "0", "make it a folder"));
  }
  if (node.size > 0xFFFFFFFFULL) {
    return Unexpected(plan_error("fat32-file-size", "file is too large for FAT32", path,
                                 std::to_string(node.size) + " bytes", "at most 4294967295 bytes",
                                 "split it"));
  }
  PlannedFile file;
  file.path = path;
  file.short_path = short_path;
  file.size = node.size;
  plan_.files.push_back(std::move(file));
  return {};
}

Try<void> TreeNamer::add_child(const Node& node, std::uint32_t folder, NamesInFolder& names,
                               std::size_t depth) {
  const std::string path = joined(plan_.folders[folder].path, shown_name(node));
  Try<PlannedEntry> entry = entry_for(node, names, escaped(path));
  if (!entry) {
    return Unexpected(std::move(entry.error()));
  }
  const std::string short_path =
      joined(plan_.folders[folder].short_path, text_from(entry->short_name));
  if (!node.folder) {
    entry->index = static_cast<std::uint32_t>(plan_.files.size());
    plan_.folders[folder].entries.push_back(std::move(*entry));
    return add_file(node, path, short_path);
  }
  entry->index = static_cast<std::uint32_t>(plan_.folders.size());
  const std::uint32_t index = entry->index;
  plan_.folders[folder].entries.push_back(std::move(*entry));
  if (path.size() > max_path_bytes) {
    return Unexpected(plan_error("fat32-depth", "folder's path is too long", escaped(path),
                                 std::to_string(path.size()) + " bytes",
                                 "at most " + std::to_string(max_path_bytes) + " bytes",
                                 "use shorter names or fewer levels"));
  }
  PlannedFolder below;
  below.path = path;
  below.short_path = short_path;
  below.parent = folder;
  plan_.folders.push_back(std::move(below));
  return add_children(node.children, index, depth + 1);
}

Try<void> TreeNamer::add_children(const std::vector<Node>& children, std::uint32_t folder,
                                  std::size_t depth) {
  if (depth > max_depth) {
    return Unexpected(plan_error("fat32-depth", "folders are nested too deep",
                                 escaped(plan_.folders[folder].path), std::to_string(depth),
                                 "at most " + std::to_string(max_depth), "use fewer levels"));
  }
  NamesInFolder names;
  if (folder == 0) {
    names.add(folded(plan_.label)); // as a file name would read it
    std::u16string label;
    to_utf16(label_text(plan_.label), label);
    names.add(label);
  }
  if (Try<void> taken = take_given(children, names, escaped(plan_.folders[folder].path)); !taken) {
    return taken;
  }
  for (const Node& node : children) {
    if (Try<void> added = add_child(node, folder, names, depth); !added) {
      return added;
    }
  }
  const std::uint32_t entries = entries_of(plan_, folder);
  if (entries >= fat::max_folder_entries) {
    return Unexpected(plan_error("fat32-folder-full", "folder has too many entries",
                                 escaped(plan_.folders[folder].path), std::to_string(entries),
                                 "at most " + std::to_string(fat::max_folder_entries - 1),
                                 "spread the files over more folders"));
  }
  return {};
}

} // namespace

std::string in_quotes(std::string_view text) {
  std::string out = "\"";
  out += escaped(text);
  out += '"';
  return out;
}

Error plan_error(std::string code, std::string what, std::string item, std::string found,
                 std::string expected, std::string hint) {
  Error error{.kind = ErrorKind::bad_data,
              .code = std::move(code),
              .what = std::move(what),
              .place = {},
              .found = std::move(found),
              .expected = std::move(expected),
              .hint = std::move(hint)};
  error.place.item = std::move(item);
  return error;
}

std::uint32_t entries_of(const VolumePlan& plan, std::uint32_t folder) {
  std::size_t entries = folder == 0 ? 1 : 2;
  for (const PlannedEntry& entry : plan.folders[folder].entries) {
    entries += 1 + divide_up(entry.long_name.size(), fat::long_entry::units);
  }
  return static_cast<std::uint32_t>(entries);
}

Try<void> name_tree(const std::vector<Node>& root, VolumePlan& plan) {
  plan.folders.assign(1, PlannedFolder{});
  return TreeNamer(plan).add_children(root, 0, 0);
}

} // namespace cardseal::fat32
