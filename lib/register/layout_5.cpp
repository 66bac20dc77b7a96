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

CREATE TABLE rework(
  allotment INTEGER NOT NULL REFERENCES allotment,
  unit INTEGER NOT NULL CHECK(unit >= 0),
  now_allotment INTEGER NOT NULL REFERENCES allotment,
  now_unit INTEGER NOT NULL CHECK(now_unit >= 0),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry,
  PRIMARY KEY(allotment, unit),
  UNIQUE(now_allotment, now_unit)) STRICT, WITHOUT ROWID;
CREATE TRIGGER rework_settled BEFORE INSERT ON rework
  WHEN NOT EXISTS(SELECT 1 FROM settled WHERE allotment = NEW.allotment AND first <= NEW.unit
                  AND past > NEW.unit AND what = 'reworked')
  BEGIN SELECT RAISE(ABORT, 'a new number is for a board that was reworked'); END;
CREATE TRIGGER rework_inside BEFORE INSERT ON rework
  WHEN NEW.now_unit >= (SELECT units FROM allotment WHERE id = NEW.now_allotment)
    OR NEW.now_allotment = NEW.allotment
  BEGIN SELECT RAISE(ABORT, 'a new number is of another card'); END;
CREATE TRIGGER rework_stays BEFORE UPDATE ON rework
  BEGIN SELECT RAISE(ABORT, 'a new number is not changed'); END;
CREATE TRIGGER rework_kept BEFORE DELETE ON rework
  BEGIN SELECT RAISE(ABORT, 'a new number is not removed'); END;
)sql";
// clang-format on

} // namespace cardseal::registry
