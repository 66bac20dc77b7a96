#include "card/left_over.h"

#include <algorithm>

namespace cardseal::card {
namespace {

constexpr std::string_view system_folders[] = {
    "system volume information", "$recycle.bin", ".spotlight-v100", ".fseventsd", ".trashes",
    ".temporaryitems",           "lost.dir",
};
constexpr std::string_view system_files[] = {".ds_store", ".metadata_never_index", "desktop.ini",
                                             "thumbs.db"};

std::string lowered(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return out;
}

std::string_view ending(std::string_view name) {
  const std::size_t dot = name.rfind('.');
  return dot == std::string_view::npos ? std::string_view() : name.substr(dot + 1);
}

// ".trash-1000": of a user.
bool is_user_trash(std::string_view folder) {
  constexpr std::string_view start = ".trash-";
  return folder.size() > start.size() && folder.starts_with(start) &&
         std::all_of(folder.begin() + start.size(), folder.end(),
                     [](char c) { return c >= '0' && c <= '9'; });
}

template <std::size_t N>
bool holds(const std::string_view (&names)[N], std::string_view name) {
  return std::find(std::begin(names), std::end(names), name) != std::end(names);
}

bool has_planned_ending(std::string_view name, const std::set<std::string>& planned) {
  return std::any_of(planned.begin(), planned.end(), [&](const std::string& path) {
    return ending(lowered(path)) == ending(name);
  });
}

} // namespace

bool is_left_over(const fat32::Entry& entry, const std::set<std::string>& planned) {
  const std::string path = lowered(entry.path);
  const std::size_t slash = path.find('/');
  const std::string_view top = std::string_view(path).substr(0, slash);
  if (entry.folder && slash == std::string::npos) {
    return holds(system_folders, top) || is_user_trash(top);
  }
  const bool in_system_folder =
      slash != std::string::npos && (holds(system_folders, top) || is_user_trash(top));
  const bool system_file =
      slash == std::string::npos && (holds(system_files, top) || top.starts_with("._"));
  return (in_system_folder || system_file) && !has_planned_ending(path, planned) &&
         !has_planned_ending(lowered(entry.short_name), planned);
}

} // namespace cardseal::card
