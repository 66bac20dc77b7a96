// What every JSON writer of this module starts and ends with. Inside this module.
#pragma once

#include <string>

#include <nlohmann/json.hpp>

#include "view/json.h"

namespace cardseal::view {

using Json = nlohmann::ordered_json;

// Text from outside may be malformed UTF-8; `replace` keeps the output valid JSON.
inline std::string spell(const Json& json) {
  return json.dump(2, ' ', false, nlohmann::json::error_handler_t::replace);
}

inline Json start() {
  return {{"schema", json_schema}};
}

} // namespace cardseal::view
