#include "view/recall_json.h"

#include "crypto/sha256.h"
#include "view/json_text.h"

namespace cardseal::view {

std::string json_of(const recall::Question& question, const recall::Answer& answer,
                    const std::vector<std::string>& sources) {
  Json out = start();
  out["where"] = recall::spelled(question.where);
  out["from"] = sources;
  for (std::size_t i = 0; i < recall::list_words.size(); ++i) {
    out["units"][std::string(recall::list_words[i])] = answer.units[i];
    out["told_twice"][std::string(recall::list_words[i])] = answer.told_twice[i];
  }
  out["spans"] = Json::array();
  for (const recall::Span& span : answer.spans) {
    const registry::AllotmentRow& row = question.given[span.given].row;
    out["spans"].push_back(
        {{"list", std::string(recall::list_words[static_cast<std::size_t>(span.list)])},
         {"first_unit", span.first},
         {"first_ordinal", row.range.count == 0 ? Json(nullptr) : Json(row.ordinal_of(span.first))},
         {"count", span.count},
         {"card", crypto::hex(row.card)},
         {"station", row.station},
         {"work_order", row.work_order},
         {"manifest", crypto::spell_digest(row.manifest)},
         {"reason", span.reason}});
  }
  return spell(out);
}

} // namespace cardseal::view
