#include "register/schema.h"

namespace cardseal::registry {

// clang-format off
const char* const layout_5_sql = R"sql(
CREATE TABLE stop(
  allotment INTEGER PRIMARY KEY REFERENCES sealing,
  text BLOB NOT NULL CHECK(length(text) > 0),
  signature BLOB NOT NULL CHECK(length(signature) = 64),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;
CREATE TRIGGER stop_stays BEFORE UPDATE ON stop
  BEGIN SELECT RAISE(ABORT, 'what stops an allotment is not changed'); END;
CREATE TRIGGER stop_kept BEFORE DELETE ON stop
  BEGIN SELECT RAISE(ABORT, 'what stops an allotment is not removed'); END;
)sql";
// clang-format on

} // namespace cardseal::registry
