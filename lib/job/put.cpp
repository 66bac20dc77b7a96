#include "job/put.h"

#include <algorithm>

#include "base/utf8.h"

namespace cardseal::job {

std::vector<const profile::Station*> by_model(const std::vector<profile::Station>& stations) {
  std::vector<const profile::Station*> out;
  out.reserve(stations.size());
  for (const profile::Station& station : stations) {
    out.push_back(&station);
  }
  std::sort(out.begin(), out.end(), [](const auto* a, const auto* b) { return a->id < b->id; });
  return out;
}

std::string sealable(std::string_view text, std::size_t limit) {
  std::string out;
  while (!text.empty()) {
    const Utf8Char next = next_utf8(text);
    const std::size_t length = std::max<std::size_t>(next.length, 1);
    const bool good =
        next.length != 0 && is_harmless(next.code) && next.code != '"' && next.code != '\\';
    const std::string_view taken = good ? text.substr(0, length) : "?";
    if (out.size() + taken.size() > limit) {
      break;
    }
    out += taken;
    text.remove_prefix(length);
  }
  return out;
}

} // namespace cardseal::job
