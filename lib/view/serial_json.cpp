#include "view/serial_json.h"

#include "view/json_text.h"

namespace cardseal::view {

std::string json_of(const SerialProof& proof) {
  Json units = Json::array();
  for (const SerialUnit& unit : proof.units) {
    Json one = {{"ordinal", unit.ordinal},
                {"number", unit.number},
                {"text", unit.text},
                {"bytes", unit.bytes}};
    if (!unit.why.empty()) {
      one["why"] = unit.why;
    }
    units.push_back(one);
  }
  Json out = {{"schema", 1},
              {"scheme", proof.scheme},
              {"first", proof.first},
              {"last", proof.last},
              {"capacity", proof.capacity},
              {"left", proof.capacity - 1 - proof.last},
              {"placements", proof.placements},
              {"units", units}};
  if (proof.collision) {
    const SerialCollision& found = *proof.collision;
    out["collision"] = {{"against", found.against},
                        {"texts", found.texts},
                        {"reason", found.reason},
                        {"number", found.number ? Json(*found.number) : Json()}};
  }
  return out.dump(2);
}

} // namespace cardseal::view
