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

CREATE TABLE again(
  allotment INTEGER NOT NULL REFERENCES allotment,
  numbers TEXT NOT NULL CHECK(numbers IN ('kept', 'stated')),
  scheme TEXT NOT NULL,
  first INTEGER NOT NULL CHECK(first >= 0),
  past INTEGER NOT NULL CHECK(past > first AND past <= first + 1000),
  PRIMARY KEY(allotment, first)) STRICT, WITHOUT ROWID;
CREATE INDEX again_scheme ON again(scheme, first);
CREATE TRIGGER again_boards BEFORE INSERT ON again
  WHEN (SELECT range FROM allotment WHERE id = NEW.allotment) IS NOT NULL
    OR EXISTS(SELECT 1 FROM sealing WHERE allotment = NEW.allotment)
    OR EXISTS(SELECT 1 FROM again WHERE allotment = NEW.allotment
              AND (numbers <> NEW.numbers OR scheme <> NEW.scheme OR past >= NEW.first))
    OR NEW.past - NEW.first + (SELECT coalesce(sum(past - first), 0) FROM again WHERE
       allotment = NEW.allotment) > (SELECT units FROM allotment WHERE id = NEW.allotment)
  BEGIN SELECT RAISE(ABORT, 'the boards of a card are named once, before it is sealed'); END;
CREATE TRIGGER again_given BEFORE INSERT ON again
  WHEN NOT EXISTS(SELECT 1 FROM window w WHERE w.scheme = NEW.scheme AND (SELECT use = 'allot' AND
       past > NEW.first FROM range WHERE window = w.id AND first <= NEW.first ORDER BY first DESC
       LIMIT 1))
  BEGIN SELECT RAISE(ABORT, 'a board comes back whose number was given to no card'); END;
CREATE TRIGGER again_stays BEFORE UPDATE ON again
  BEGIN SELECT RAISE(ABORT, 'the boards of a card are not changed'); END;
CREATE TRIGGER again_kept BEFORE DELETE ON again
  BEGIN SELECT RAISE(ABORT, 'the boards of a card are not removed'); END;

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
