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

CREATE TABLE label(
  id INTEGER PRIMARY KEY,
  allotment INTEGER NOT NULL REFERENCES allotment,
  first INTEGER NOT NULL CHECK(first >= 0),
  past INTEGER NOT NULL CHECK(past > first),
  what TEXT NOT NULL CHECK(what IN ('printed', 'applied', 'scrapped')),
  said_by TEXT NOT NULL,
  note TEXT NOT NULL,
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;
CREATE INDEX label_allotment ON label(allotment, id);
CREATE TRIGGER label_inside BEFORE INSERT ON label
  WHEN NEW.past > (SELECT units FROM allotment WHERE id = NEW.allotment)
  BEGIN SELECT RAISE(ABORT, 'a label past the allotment is noted'); END;
CREATE TRIGGER label_printed BEFORE INSERT ON label
  WHEN NEW.what <> 'printed' AND NOT EXISTS(SELECT 1 FROM label WHERE allotment = NEW.allotment
       AND what = 'printed' AND first < NEW.past AND past > NEW.first)
  BEGIN SELECT RAISE(ABORT, 'a label is printed before anything becomes of it'); END;
CREATE TRIGGER label_stays BEFORE UPDATE ON label
  BEGIN SELECT RAISE(ABORT, 'what became of a label is not changed'); END;
CREATE TRIGGER label_kept BEFORE DELETE ON label
  BEGIN SELECT RAISE(ABORT, 'what became of a label is not removed'); END;

CREATE TABLE order_file(
  file BLOB PRIMARY KEY CHECK(length(file) = 32),
  bytes BLOB NOT NULL CHECK(length(bytes) > 0),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT, WITHOUT ROWID;
CREATE TRIGGER order_file_stays BEFORE UPDATE ON order_file
  BEGIN SELECT RAISE(ABORT, 'an order is not changed'); END;
CREATE TRIGGER order_file_kept BEFORE DELETE ON order_file
  BEGIN SELECT RAISE(ABORT, 'an order is not removed'); END;
)sql";
// clang-format on

} // namespace cardseal::registry
