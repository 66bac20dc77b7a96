#include "view/trust_json.h"

#include "crypto/sha256.h"
#include "view/json_text.h"

namespace cardseal::view {
namespace {

Json list_json(const NamedList& list) {
  return {{"file", list.file},
          {"trust", crypto::spell_digest(list.trust.digest)},
          {"root_version", list.trust.list.root_version},
          {"sequence", list.trust.list.sequence}};
}

Json root_json(const NamedRoot& root) {
  return {{"file", root.file},
          {"root", crypto::spell_digest(crypto::sha256(root.draft.file.text))},
          {"version", root.draft.root.version},
          {"threshold", root.draft.root.threshold}};
}

} // namespace

std::string json_of(const NamedList& before, const NamedList& after,
                    const std::vector<seal::TrustChange>& changes) {
  Json out = start();
  out["same"] = changes.empty();
  out["before"] = list_json(before);
  out["after"] = list_json(after);
  out["changes"] = Json::array();
  for (const seal::TrustChange& change : changes) {
    out["changes"].push_back(
        {{"what", std::string(seal::change_words[static_cast<std::size_t>(change.what)])},
         {"allowed", change.allowed()},
         {"text", change.text}});
  }
  return spell(out);
}

std::string json_of(const NamedRoot& before, const NamedRoot& after,
                    const std::vector<seal::RootChange>& changes) {
  Json out = start();
  out["same"] = before.draft.file.text == after.draft.file.text;
  out["before"] = root_json(before);
  out["after"] = root_json(after);
  out["changes"] = Json::array();
  for (const seal::RootChange& change : changes) {
    out["changes"].push_back({{"what", change.what}, {"text", change.text}});
  }
  return spell(out);
}

} // namespace cardseal::view
