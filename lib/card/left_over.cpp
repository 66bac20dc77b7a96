#include "card/left_over.h"

#include <algorithm>
#include <string>

namespace cardseal::card {
namespace {

constexpr std::string_view left_over_folders[] = {
    "system volume information/", "$recycle.bin/", ".spotlight-v100/", ".fseventsd/", ".trashes/",
    ".temporaryitems/",           ".trash-",       "lost.dir/",
};
constexpr std::string_view left_over_files[] = {".ds_store", ".metadata_never_index", "desktop.ini",
                                                "thumbs.db"};

std::string lowered(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return out;
}

} // namespace

bool is_left_over(std::string_view path) {
  const std::string low = lowered(path);
  const std::size_t slash = low.rfind('/');
  const std::string_view name =
      std::string_view(low).substr(slash == std::string::npos ? 0 : slash + 1);
  return std::any_of(std::begin(left_over_folders), std::end(left_over_folders),
                     [&](std::string_view one) { return low.starts_with(one); }) ||
         std::find(std::begin(left_over_files), std::end(left_over_files), name) !=
             std::end(left_over_files) ||
         name.starts_with("._");
}

} // namespace cardseal::card
