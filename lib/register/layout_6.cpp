#include "register/schema.h"

namespace cardseal::registry {

// clang-format off
const char* const layout_6_sql = R"sql(
CREATE TABLE merged(
  work_order TEXT PRIMARY KEY,
  whole TEXT NOT NULL CHECK(whole <> work_order),
  said_by TEXT NOT NULL,
  note TEXT NOT NULL,
  entry INTEGER NOT NULL UNIQUE REFERENCES entry) STRICT, WITHOUT ROWID;
CREATE INDEX merged_whole ON merged(whole);
CREATE TRIGGER merged_ends BEFORE INSERT ON merged
  WHEN EXISTS(SELECT 1 FROM merged WHERE work_order = NEW.whole)
  BEGIN SELECT RAISE(ABORT, 'an order that was merged takes no other'); END;
CREATE TRIGGER merged_open BEFORE INSERT ON merged
  WHEN EXISTS(SELECT 1 FROM statement WHERE kind = 'closure'
              AND work_order IN (NEW.work_order, NEW.whole))
  BEGIN SELECT RAISE(ABORT, 'a lot that is closed is not merged'); END;
CREATE TRIGGER merged_class BEFORE INSERT ON merged
  WHEN 1 <> (SELECT count(DISTINCT class) FROM (
             SELECT class FROM lot WHERE work_order IN (NEW.work_order, NEW.whole) UNION
             SELECT class FROM work_order WHERE name IN (NEW.work_order, NEW.whole)))
  BEGIN SELECT RAISE(ABORT, 'orders of one class are merged'); END;
CREATE TRIGGER merged_lot BEFORE INSERT ON lot
  WHEN EXISTS(SELECT 1 FROM merged WHERE work_order = NEW.work_order)
  BEGIN SELECT RAISE(ABORT, 'an order that was merged gets no card'); END;
CREATE TRIGGER merged_order BEFORE INSERT ON work_order
  WHEN EXISTS(SELECT 1 FROM merged WHERE work_order = NEW.name)
  BEGIN SELECT RAISE(ABORT, 'an order that was merged has no next revision'); END;
CREATE TRIGGER merged_statement BEFORE INSERT ON statement
  WHEN EXISTS(SELECT 1 FROM merged WHERE work_order = NEW.work_order)
  BEGIN SELECT RAISE(ABORT, 'of an order that was merged the other one speaks'); END;
CREATE TRIGGER sealing_open BEFORE INSERT ON sealing
  WHEN EXISTS(SELECT 1 FROM allotment a JOIN lot l ON l.id = a.lot JOIN statement s ON
              s.work_order = l.work_order OR s.work_order = (SELECT whole FROM merged WHERE
              work_order = l.work_order) WHERE a.id = NEW.allotment AND s.kind = 'closure')
  BEGIN SELECT RAISE(ABORT, 'nothing is sealed for a lot that is closed'); END;
CREATE TRIGGER merged_stays BEFORE UPDATE ON merged
  BEGIN SELECT RAISE(ABORT, 'a merge is not changed'); END;
CREATE TRIGGER merged_kept BEFORE DELETE ON merged
  BEGIN SELECT RAISE(ABORT, 'a merge is not removed'); END;
)sql";
// clang-format on

} // namespace cardseal::registry
