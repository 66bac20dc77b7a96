#include "register/schema.h"

namespace cardseal::registry {

// clang-format off
const char* const schema_sql = R"sql(
CREATE TABLE entry(
  number INTEGER PRIMARY KEY CHECK(number > 0),
  body TEXT NOT NULL,
  digest BLOB NOT NULL CHECK(length(digest) = 32),
  time TEXT NOT NULL) STRICT;
CREATE TRIGGER entry_turn BEFORE INSERT ON entry
  WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM entry)
  BEGIN SELECT RAISE(ABORT, 'an entry is out of turn'); END;

CREATE TABLE owner(
  one INTEGER PRIMARY KEY CHECK(one = 1),
  digest BLOB NOT NULL CHECK(length(digest) = 32),
  entry INTEGER NOT NULL REFERENCES entry) STRICT;

CREATE TABLE scheme(
  id TEXT PRIMARY KEY,
  definition BLOB NOT NULL CHECK(length(definition) = 32),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT, WITHOUT ROWID;

CREATE TABLE window(
  id INTEGER PRIMARY KEY,
  key BLOB NOT NULL CHECK(length(key) = 32),
  scheme TEXT NOT NULL,
  first INTEGER NOT NULL CHECK(first >= 0),
  last INTEGER NOT NULL CHECK(last >= first AND last <= 999999999999),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;
CREATE INDEX window_scheme ON window(scheme, first);
CREATE TRIGGER window_apart BEFORE INSERT ON window
  WHEN EXISTS(SELECT 1 FROM window
              WHERE scheme = NEW.scheme AND first <= NEW.last AND last >= NEW.first)
  BEGIN SELECT RAISE(ABORT, 'two windows share numbers'); END;

CREATE TABLE range(
  id INTEGER PRIMARY KEY,
  window INTEGER NOT NULL REFERENCES window,
  first INTEGER,
  past INTEGER NOT NULL CHECK(first IS NULL OR past > first),
  use TEXT NOT NULL CHECK(use IN ('open', 'allot', 'hand', 'abandon', 'lost')),
  note TEXT NOT NULL,
  entry INTEGER NOT NULL UNIQUE REFERENCES entry,
  CHECK((first IS NULL) = (use = 'open')),
  UNIQUE(window, first),
  UNIQUE(window, past),
  FOREIGN KEY(window, first) REFERENCES range(window, past)) STRICT;
CREATE UNIQUE INDEX range_open ON range(window) WHERE first IS NULL;
CREATE INDEX range_apart ON range(id) WHERE use IN ('hand', 'abandon', 'lost');
CREATE TRIGGER range_opens BEFORE INSERT ON range
  WHEN NEW.first IS NULL AND NEW.past IS NOT (SELECT first FROM window WHERE id = NEW.window)
  BEGIN SELECT RAISE(ABORT, 'a window opens at its first number'); END;
CREATE TRIGGER range_follows BEFORE INSERT ON range
  WHEN NEW.first IS NOT NULL
   AND NEW.first IS NOT (SELECT max(past) FROM range WHERE window = NEW.window)
  BEGIN SELECT RAISE(ABORT, 'a range does not begin where the last one ended'); END;
CREATE TRIGGER range_inside BEFORE INSERT ON range
  WHEN NEW.past > (SELECT last + 1 FROM window WHERE id = NEW.window)
  BEGIN SELECT RAISE(ABORT, 'a range ends past its window'); END;

CREATE TABLE enrolment(
  station TEXT NOT NULL,
  number INTEGER NOT NULL CHECK(number BETWEEN 1 AND 999999),
  first_serial INTEGER NOT NULL CHECK(first_serial BETWEEN 1 AND 999999999),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry,
  PRIMARY KEY(station, number)) STRICT, WITHOUT ROWID;
CREATE TRIGGER enrolment_rises BEFORE INSERT ON enrolment
  WHEN NEW.number <= (SELECT max(number) FROM enrolment WHERE station = NEW.station)
  BEGIN SELECT RAISE(ABORT, 'an enrolment is not above the last'); END;

CREATE TABLE lot(
  id INTEGER PRIMARY KEY,
  work_order TEXT NOT NULL,
  class TEXT NOT NULL,
  manifest BLOB NOT NULL CHECK(length(manifest) = 32),
  product TEXT NOT NULL,
  quantity INTEGER NOT NULL CHECK(quantity >= 0),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;

CREATE TABLE work_order(
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  revision INTEGER NOT NULL CHECK(revision BETWEEN 1 AND 9999),
  class TEXT NOT NULL,
  manifest BLOB NOT NULL CHECK(length(manifest) = 32),
  product TEXT NOT NULL,
  quantity INTEGER NOT NULL CHECK(quantity > 0),
  spares INTEGER NOT NULL CHECK(spares >= 0),
  first_article INTEGER NOT NULL CHECK(first_article IN (0, 1)),
  parent TEXT,
  file BLOB NOT NULL CHECK(length(file) = 32),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry,
  UNIQUE(name, revision)) STRICT;
CREATE TRIGGER work_order_rises BEFORE INSERT ON work_order
  WHEN NEW.revision <= (SELECT max(revision) FROM work_order WHERE name = NEW.name)
  BEGIN SELECT RAISE(ABORT, 'a revision of an order is not above the last'); END;
CREATE TRIGGER work_order_same BEFORE INSERT ON work_order
  WHEN EXISTS(SELECT 1 FROM work_order WHERE name = NEW.name
              AND (class <> NEW.class OR manifest <> NEW.manifest OR parent IS NOT NEW.parent
                   OR first_article > NEW.first_article))
  BEGIN SELECT RAISE(ABORT, 'a revision of an order changes what it is'); END;

CREATE TABLE statement(
  id INTEGER PRIMARY KEY,
  work_order TEXT NOT NULL,
  kind TEXT NOT NULL CHECK(kind IN ('first-article', 'concession', 'closure')),
  text BLOB NOT NULL CHECK(length(text) > 0),
  signature BLOB NOT NULL CHECK(length(signature) = 64),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;
CREATE INDEX statement_order ON statement(work_order, id);
CREATE UNIQUE INDEX statement_closes ON statement(work_order) WHERE kind = 'closure';
CREATE TRIGGER lot_open BEFORE INSERT ON lot
  WHEN EXISTS(SELECT 1 FROM statement WHERE work_order = NEW.work_order AND kind = 'closure')
  BEGIN SELECT RAISE(ABORT, 'a lot that is closed gets no card'); END;

CREATE INDEX lot_work_order ON lot(work_order);
CREATE TABLE place(
  work_order TEXT NOT NULL,
  name TEXT NOT NULL,
  lot INTEGER NOT NULL UNIQUE REFERENCES lot,
  entry INTEGER NOT NULL UNIQUE REFERENCES entry,
  PRIMARY KEY(work_order, name)) STRICT, WITHOUT ROWID;

CREATE TABLE allotment(
  id INTEGER PRIMARY KEY,
  lot INTEGER NOT NULL REFERENCES lot,
  range INTEGER UNIQUE REFERENCES range,
  card BLOB NOT NULL CHECK(length(card) = 8),
  station TEXT NOT NULL,
  enrolment INTEGER NOT NULL,
  serial INTEGER NOT NULL CHECK(serial BETWEEN 1 AND 999999999),
  units INTEGER NOT NULL CHECK(units BETWEEN 1 AND 9999999),
  slots INTEGER NOT NULL CHECK(slots > 0),
  date_code TEXT,
  spare INTEGER NOT NULL CHECK(spare IN (0, 1)),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry,
  UNIQUE(station, serial),
  UNIQUE(card, lot),
  FOREIGN KEY(station, enrolment) REFERENCES enrolment(station, number)) STRICT;
CREATE INDEX allotment_lot ON allotment(lot);
CREATE TRIGGER allotment_rises BEFORE INSERT ON allotment
  WHEN NEW.serial <= (SELECT max(serial) FROM allotment WHERE station = NEW.station)
  BEGIN SELECT RAISE(ABORT, 'an allotment serial is not above the last'); END;
CREATE TRIGGER allotment_joins BEFORE INSERT ON allotment
  WHEN EXISTS(SELECT 1 FROM allotment a WHERE a.card = NEW.card AND (a.station <> NEW.station
              OR EXISTS(SELECT 1 FROM sealing WHERE allotment = a.id)))
  BEGIN SELECT RAISE(ABORT, 'a card is made once, for one station'); END;
CREATE TRIGGER allotment_range BEFORE INSERT ON allotment
  WHEN NEW.range IS NOT NULL AND NEW.units IS NOT
       (SELECT past - first FROM range WHERE id = NEW.range AND use = 'allot')
  BEGIN SELECT RAISE(ABORT, 'an allotment and its range differ'); END;

CREATE TABLE tally(
  manifest BLOB NOT NULL,
  station TEXT NOT NULL,
  units INTEGER NOT NULL CHECK(units > 0),
  PRIMARY KEY(manifest, station)) STRICT, WITHOUT ROWID;

CREATE TABLE sealing(
  allotment INTEGER PRIMARY KEY REFERENCES allotment,
  text BLOB NOT NULL CHECK(length(text) = 32),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;
CREATE TABLE written(
  allotment INTEGER PRIMARY KEY REFERENCES sealing,
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;
CREATE TABLE outcome(
  allotment INTEGER PRIMARY KEY REFERENCES allotment,
  begun BLOB NOT NULL,
  good BLOB NOT NULL CHECK(length(good) = length(begun)),
  begun_count INTEGER NOT NULL,
  good_count INTEGER NOT NULL CHECK(good_count BETWEEN 0 AND begun_count),
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;

CREATE TABLE fate(
  id INTEGER PRIMARY KEY,
  allotment INTEGER NOT NULL REFERENCES allotment,
  what TEXT NOT NULL CHECK(what IN ('on-card', 'returned', 'destroyed', 'lost', 'erased')),
  said_by TEXT NOT NULL,
  note TEXT NOT NULL,
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;
CREATE INDEX fate_allotment ON fate(allotment, id);
CREATE TRIGGER fate_order BEFORE INSERT ON fate
  WHEN NEW.what = 'on-card' AND coalesce((SELECT what FROM fate WHERE allotment = NEW.allotment
       ORDER BY id DESC LIMIT 1), 'erased') NOT IN ('destroyed', 'erased')
  BEGIN SELECT RAISE(ABORT, 'the image of a card that may be about goes on no other'); END;

CREATE TABLE settled(
  id INTEGER PRIMARY KEY,
  allotment INTEGER NOT NULL REFERENCES allotment,
  first INTEGER NOT NULL CHECK(first >= 0),
  past INTEGER NOT NULL CHECK(past > first),
  what TEXT NOT NULL CHECK(what IN ('scrapped', 'no-board', 'reworked', 'conceded')),
  said_by TEXT NOT NULL,
  note TEXT NOT NULL,
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT;
CREATE INDEX settled_allotment ON settled(allotment, first);
CREATE TRIGGER settled_once BEFORE INSERT ON settled
  WHEN EXISTS(SELECT 1 FROM settled WHERE allotment = NEW.allotment AND first < NEW.past
              AND past > NEW.first)
  BEGIN SELECT RAISE(ABORT, 'a unit is settled once'); END;
CREATE TRIGGER settled_inside BEFORE INSERT ON settled
  WHEN NEW.past > (SELECT units FROM allotment WHERE id = NEW.allotment)
  BEGIN SELECT RAISE(ABORT, 'a unit past the allotment is settled'); END;

CREATE TABLE met(
  text BLOB PRIMARY KEY CHECK(length(text) = 32),
  station TEXT NOT NULL,
  serial INTEGER NOT NULL,
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT, WITHOUT ROWID;
CREATE INDEX met_station ON met(station, serial);

CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
  BEGIN SELECT RAISE(ABORT, 'history is not changed'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry
  BEGIN SELECT RAISE(ABORT, 'history is not removed'); END;
CREATE TRIGGER owner_stays BEFORE UPDATE ON owner
  BEGIN SELECT RAISE(ABORT, 'the owner is not changed'); END;
CREATE TRIGGER owner_kept BEFORE DELETE ON owner
  BEGIN SELECT RAISE(ABORT, 'the owner is not removed'); END;
CREATE TRIGGER scheme_stays BEFORE UPDATE ON scheme
  BEGIN SELECT RAISE(ABORT, 'a scheme is not changed'); END;
CREATE TRIGGER scheme_kept BEFORE DELETE ON scheme
  BEGIN SELECT RAISE(ABORT, 'a scheme is not removed'); END;
CREATE TRIGGER window_stays BEFORE UPDATE ON window
  BEGIN SELECT RAISE(ABORT, 'a window is not changed'); END;
CREATE TRIGGER window_kept BEFORE DELETE ON window
  BEGIN SELECT RAISE(ABORT, 'a window is not removed'); END;
CREATE TRIGGER range_stays BEFORE UPDATE ON range
  BEGIN SELECT RAISE(ABORT, 'a range is not changed'); END;
CREATE TRIGGER range_kept BEFORE DELETE ON range
  BEGIN SELECT RAISE(ABORT, 'a number does not come back'); END;
CREATE TRIGGER enrolment_stays BEFORE UPDATE ON enrolment
  BEGIN SELECT RAISE(ABORT, 'an enrolment is not changed'); END;
CREATE TRIGGER enrolment_kept BEFORE DELETE ON enrolment
  BEGIN SELECT RAISE(ABORT, 'an enrolment is not removed'); END;
CREATE TRIGGER lot_stays BEFORE UPDATE ON lot
  BEGIN SELECT RAISE(ABORT, 'a lot order is not changed'); END;
CREATE TRIGGER lot_kept BEFORE DELETE ON lot
  BEGIN SELECT RAISE(ABORT, 'a lot order is not removed'); END;
CREATE TRIGGER allotment_stays BEFORE UPDATE ON allotment
  BEGIN SELECT RAISE(ABORT, 'an allotment is not changed'); END;
CREATE TRIGGER allotment_kept BEFORE DELETE ON allotment
  BEGIN SELECT RAISE(ABORT, 'an allotment is not removed'); END;
CREATE TRIGGER sealing_stays BEFORE UPDATE ON sealing
  BEGIN SELECT RAISE(ABORT, 'a sealed text is not changed'); END;
CREATE TRIGGER sealing_kept BEFORE DELETE ON sealing
  BEGIN SELECT RAISE(ABORT, 'a sealed text is not removed'); END;
CREATE TRIGGER written_stays BEFORE UPDATE ON written
  BEGIN SELECT RAISE(ABORT, 'a card stays written'); END;
CREATE TRIGGER written_kept BEFORE DELETE ON written
  BEGIN SELECT RAISE(ABORT, 'a card stays written'); END;
CREATE TRIGGER met_stays BEFORE UPDATE ON met
  BEGIN SELECT RAISE(ABORT, 'what was met is not changed'); END;
CREATE TRIGGER met_kept BEFORE DELETE ON met
  BEGIN SELECT RAISE(ABORT, 'what was met is not removed'); END;
CREATE TRIGGER tally_rises BEFORE UPDATE ON tally
  WHEN NEW.units <= OLD.units OR NEW.manifest <> OLD.manifest OR NEW.station <> OLD.station
  BEGIN SELECT RAISE(ABORT, 'a count goes up only'); END;
CREATE TRIGGER tally_kept BEFORE DELETE ON tally
  BEGIN SELECT RAISE(ABORT, 'a count is not removed'); END;
CREATE TRIGGER outcome_forward BEFORE UPDATE ON outcome
  WHEN NEW.entry <= OLD.entry OR NEW.allotment <> OLD.allotment
    OR length(NEW.begun) <> length(OLD.begun)
    OR NEW.begun_count < OLD.begun_count OR NEW.good_count < OLD.good_count
  BEGIN SELECT RAISE(ABORT, 'an outcome goes forward only'); END;
CREATE TRIGGER fate_stays BEFORE UPDATE ON fate
  BEGIN SELECT RAISE(ABORT, 'what became of a card is not changed'); END;
CREATE TRIGGER fate_kept BEFORE DELETE ON fate
  BEGIN SELECT RAISE(ABORT, 'what became of a card is not removed'); END;
CREATE TRIGGER work_order_stays BEFORE UPDATE ON work_order
  BEGIN SELECT RAISE(ABORT, 'an order is not changed: it has a next revision'); END;
CREATE TRIGGER work_order_kept BEFORE DELETE ON work_order
  BEGIN SELECT RAISE(ABORT, 'an order is not removed'); END;
CREATE TRIGGER statement_stays BEFORE UPDATE ON statement
  BEGIN SELECT RAISE(ABORT, 'what was signed is not changed'); END;
CREATE TRIGGER statement_kept BEFORE DELETE ON statement
  BEGIN SELECT RAISE(ABORT, 'what was signed is not removed'); END;
CREATE TRIGGER place_stays BEFORE UPDATE ON place
  BEGIN SELECT RAISE(ABORT, 'the place of a card is not changed'); END;
CREATE TRIGGER place_kept BEFORE DELETE ON place
  BEGIN SELECT RAISE(ABORT, 'the place of a card is not removed'); END;
CREATE TRIGGER settled_stays BEFORE UPDATE ON settled
  BEGIN SELECT RAISE(ABORT, 'what became of a unit is not changed'); END;
CREATE TRIGGER settled_kept BEFORE DELETE ON settled
  BEGIN SELECT RAISE(ABORT, 'what became of a unit is not removed'); END;
CREATE TRIGGER outcome_kept BEFORE DELETE ON outcome
  BEGIN SELECT RAISE(ABORT, 'an outcome is not removed'); END;
)sql";
// clang-format on

} // namespace cardseal::registry
