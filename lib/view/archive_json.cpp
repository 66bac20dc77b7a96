#include "view/archive_json.h"

#include "view/json_text.h"

namespace cardseal::view {

std::string json_of(const std::vector<archive::Item>& items) {
  Json out = start();
  out["items"] = Json::array();
  for (const archive::Item& item : items) {
    Json one = {{"id", crypto::hex(item.id())},
                {"kind", std::string(archive::kind_words[static_cast<std::size_t>(item.kind)])},
                {"title", item.title},
                {"claimed_time", item.time},
                {"parts", Json::array()}};
    for (const archive::Part& part : item.parts) {
      one["parts"].push_back({{"name", part.name},
                              {"sha256", crypto::hex(part.digest)},
                              {"size", part.size},
                              {"sparse", part.sparse}});
    }
    out["items"].push_back(std::move(one));
  }
  return spell(out);
}

std::string json_of_scrub(std::uint64_t objects, const std::vector<std::string>& problems) {
  Json out = start();
  out["files"] = objects;
  out["problems"] = problems;
  return spell(out);
}

} // namespace cardseal::view
