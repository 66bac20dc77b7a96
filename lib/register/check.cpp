// The whole register held against itself: SQLite's own checks, its tables and triggers against
// those it was made with, the chain of digests, every row against the entry that made it, ranges
// one after the other, and sums.
#include "register/register.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "base/number.h"
#include "register/rows.h"
#include "register/schema.h"

namespace cardseal::registry {
namespace {

constexpr std::size_t most_problems = 100;

class Checker {
public:
  explicit Checker(Database& database) : database_(database) {}

  Try<std::vector<std::string>> run() {
    REG_DO(sqlite_checks());
    REG_DO(own_rules());
    REG_DO(chain());
    REG_DO(owner());
    REG_DO(schemes());
    REG_DO(windows());
    REG_DO(ranges());
    REG_DO(enrolments());
    REG_DO(lots());
    REG_DO(allotments());
    REG_DO(sealings());
    REG_DO(writings());
    REG_DO(outcomes());
    REG_DO(fates());
    REG_DO(stops());
    REG_DO(orders());
    REG_DO(order_files());
    REG_DO(places());
    REG_DO(settlements());
    REG_DO(reworks());
    REG_DO(labels());
    REG_DO(statements());
    REG_DO(merges());
    REG_DO(met());
    REG_DO(tallies());
    unclaimed();
    return std::move(problems_);
  }

private:
  struct Made { // an entry
    std::uint64_t number = 0;
    format::Digest body{};
    bool claimed = false; // by a row, or needs none
  };

  void problem(std::string text) {
    if (problems_.size() < most_problems) {
      problems_.push_back(std::move(text));
    }
  }

  // Calls `take` for every row.
  template <class Take>
  Try<void> each(const char* sql, Take take) {
    REG_TRY(query, database_.query(sql));
    return each_of(query, take);
  }

  template <class Take>
  static Try<void> each_of(Query& query, Take take) {
    for (;;) {
      REG_TRY(row, query.next());
      if (!row) {
        return {};
      }
      take(query);
    }
  }

  // `what` stands in entry `number` exactly so, and no other row stands there.
  void claim(std::uint64_t number, const Body& body, const char* what) {
    Made* entry = find(number);
    if (entry == nullptr || entry->claimed) {
      problem(fmt::format("{}: entry {} is not there, or made something else", what, number));
      return;
    }
    if (entry->body != crypto::sha256(bytes_of(body.text()))) {
      problem(fmt::format("{}: the row differs from entry {}", what, number));
    }
    entry->claimed = true;
  }

  Made* find(std::uint64_t number) {
    const auto found = std::lower_bound(
        entries_.begin(), entries_.end(), number,
        [](const Made& made, std::uint64_t wanted) { return made.number < wanted; });
    return found != entries_.end() && found->number == number ? &*found : nullptr;
  }

  // Without the tables' rules the next program could do what they forbid.
  Try<void> own_rules() {
    constexpr const char* rules =
        "SELECT name, coalesce(sql, '') FROM sqlite_schema WHERE name NOT LIKE 'sqlite_stat%'";
    REG_TRY(fresh, Database::open(":memory:", Access::create, 0));
    REG_DO(fresh.execute(schema_sql));
    REG_DO(fresh.execute(layout_5_sql));
    REG_DO(fresh.execute(layout_6_sql));
    std::map<std::string, std::string> expected;
    {
      REG_TRY(query, fresh.query(rules));
      REG_DO(each_of(query, [&](Query& row) { expected.emplace(row.text(0), row.text(1)); }));
    }
    REG_DO(each(rules, [&](Query& row) {
      const auto found = expected.find(row.text(0));
      if (found == expected.end() || found->second != row.text(1)) {
        problem(fmt::format("rule {}: not as this version made it", row.text(0)));
      }
      if (found != expected.end()) {
        expected.erase(found);
      }
    }));
    for (const auto& [name, sql] : expected) {
      problem(fmt::format("rule {}: gone", name));
    }
    return {};
  }

  Try<void> sqlite_checks() {
    REG_DO(each("PRAGMA integrity_check(10)", [&](Query& row) {
      if (row.text(0) != "ok") {
        problem("the file: " + row.text(0));
      }
    }));
    return each("PRAGMA foreign_key_check", [&](Query& row) {
      problem(fmt::format("table {}, row {}: names what is not there", row.text(0), row.number(1)));
    });
  }

  Try<void> chain() {
    Head head;
    return each("SELECT number, body, digest FROM entry ORDER BY number", [&](Query& row) {
      const std::uint64_t number = row.number(0);
      const std::string body = row.text(1);
      format::Digest stored{};
      const bool read = row.bytes_into(2, stored);
      if (number != head.entries + 1) {
        problem(fmt::format("entry {} is missing", head.entries + 1));
      } else if (!read || stored != entry_digest(head.digest, body)) {
        problem(fmt::format("entry {}: the digest does not cover what stands there", number));
      }
      head = {number, stored};
      remember(number, body);
    });
  }

  // Results go forward in one row: only the last entry of an allotment's has one.
  void remember(std::uint64_t number, const std::string& body) {
    constexpr std::string_view outcome = " outcome\nallotment ";
    entries_.push_back({number, crypto::sha256(bytes_of(body)), false});
    const std::size_t at = body.find(outcome);
    const std::size_t end = at == std::string::npos ? at : body.find('\n', at + outcome.size());
    std::uint64_t allotment = 0;
    if (end != std::string::npos && at == body.find(' ', 6) &&
        parse_uint(slice(body, at + outcome.size(), end - at - outcome.size()), allotment)) {
      const auto [last, fresh] = outcomes_.emplace(allotment, number);
      if (!fresh) {
        Made* earlier = find(last->second);
        earlier->claimed = true;
        last->second = number;
      }
    }
  }

  Try<void> owner() {
    return each("SELECT entry, digest FROM owner", [&](Query& row) {
      format::Digest digest{};
      (void)row.bytes_into(1, digest);
      claim(row.number(0), owner_body(row.number(0), digest), "owner");
    });
  }

  Try<void> schemes() {
    return each("SELECT entry, id, definition FROM scheme", [&](Query& row) {
      claim(row.number(0), scheme_body(row.number(0), row.text(1), row.bytes(2)), "scheme");
    });
  }

  Try<void> windows() {
    std::string scheme;
    std::uint64_t past = 0;
    return each("SELECT entry, key, scheme, first, last FROM window ORDER BY scheme, first",
                [&](Query& row) {
                  const std::string name = row.text(2);
                  claim(
                      row.number(0),
                      window_body(row.number(0), row.bytes(1), name, row.number(3), row.number(4)),
                      "window");
                  if (name == scheme && row.number(3) < past) {
                    problem(fmt::format("windows of {} share number {}", name, row.number(3)));
                  }
                  scheme = name;
                  past = row.number(4) + 1;
                });
  }

  // One after the other from the window's first number on, and none past its end.
  Try<void> ranges() {
    std::uint64_t window = 0;
    std::uint64_t next = 0;
    return each(
        "SELECT r.window, r.first, r.past, r.use, r.note, r.entry, w.scheme, w.first, w.last FROM "
        "range r JOIN window w ON w.id = r.window ORDER BY r.window, coalesce(r.first, -1), r.past",
        [&](Query& row) {
          const std::string use = row.text(3);
          if (row.number(0) != window) {
            window = row.number(0);
            next = row.number(7);
          }
          const std::uint64_t first = row.is_null(1) ? row.number(2) : row.number(1);
          if (first != next) {
            problem(fmt::format("{} {} to {} of {}: should begin at {}", use, first,
                                row.number(2) - 1, row.text(6), next));
          }
          if (row.number(2) > row.number(8) + 1) {
            problem(fmt::format("{} of {} ends past its window", use, row.text(6)));
          }
          next = row.number(2);
          if (use != "open" && use != "allot") {
            claim(row.number(5),
                  range_body(row.number(5), use, row.text(6), {first, row.number(2) - first},
                             row.text(4)),
                  "range");
          }
        });
  }

  Try<void> enrolments() {
    return each("SELECT entry, station, number, first_serial FROM enrolment", [&](Query& row) {
      claim(row.number(0), enrolment_body(row.number(0), row.text(1), row.number(2), row.number(3)),
            "enrolment");
    });
  }

  Try<void> lots() {
    return each("SELECT entry, work_order, class, manifest, product, quantity FROM lot",
                [&](Query& row) {
                  AllotmentRow lot;
                  lot.work_order = row.text(1);
                  lot.work_class = row.text(2);
                  (void)row.bytes_into(3, lot.manifest);
                  lot.product = row.text(4);
                  claim(row.number(0), lot_body(row.number(0), lot, row.number(5)), "lot order");
                });
  }

  Try<void> allotments() {
    return each(allotments_in_order(), [&](Query& query) {
      const AllotmentRow row = read_allotment(query);
      claim(row.entry_number, allotment_body(row.entry_number, row).hex("card", row.card),
            "allotment");
      sums_[{io::Bytes(row.manifest.begin(), row.manifest.end()), row.station}] += row.units;
      units_[row.id] = row.units;
    });
  }

  Try<void> sealings() {
    return each("SELECT entry, allotment, text FROM sealing", [&](Query& row) {
      claim(row.number(0), sealed_body(row.number(0), row.number(1), row.bytes(2)), "sealed text");
    });
  }

  Try<void> writings() {
    return each("SELECT entry, allotment FROM written", [&](Query& row) {
      claim(row.number(0), written_body(row.number(0), row.number(1)), "written card");
    });
  }

  Try<void> outcomes() {
    return each("SELECT entry, allotment, begun, good, begun_count, good_count FROM outcome",
                [&](Query& row) {
                  const io::Bytes begun = row.bytes(2);
                  const io::Bytes good = row.bytes(3);
                  const Body body = outcome_body(row.number(0), row.number(1), begun, good,
                                                 row.number(4), row.number(5));
                  claim(row.number(0), body, "results");
                  if (bits(begun) != row.number(4) || bits(good) != row.number(5) ||
                      begun.size() != (units_[row.number(1)] + 7) / 8) {
                    problem(fmt::format("results of allotment {}: the counts differ from the bits",
                                        row.number(1)));
                  }
                });
  }

  Try<void> fates() {
    return each("SELECT entry, allotment, what, said_by, note FROM fate", [&](Query& row) {
      claim(row.number(0),
            fate_body(row.number(0), row.number(1), row.text(2), row.text(3), row.text(4)),
            "what became of a card");
    });
  }

  Try<void> stops() {
    return each(stop_columns, [&](Query& query) {
      std::uint64_t entry = 0;
      const Stop stop = read_stop(query, entry);
      claim(entry, stop_body(entry, stop), "stop of an allotment");
    });
  }

  Try<void> orders() {
    return each(order_columns, [&](Query& query) {
      std::uint64_t entry = 0;
      const OrderRow order = read_order(query, entry);
      claim(entry, order_body(entry, order), "work order");
    });
  }

  Try<void> order_files() {
    return each("SELECT entry, file, bytes FROM order_file", [&](Query& row) {
      const io::Bytes bytes = row.bytes(2);
      format::Digest file{};
      if (!row.bytes_into(1, file) || file != crypto::sha256(bytes)) {
        problem(fmt::format("order's file: entry {} names other bytes", row.number(0)));
      }
      claim(row.number(0), order_file_body(row.number(0), bytes), "order's file");
    });
  }

  Try<void> places() {
    return each("SELECT entry, lot, work_order, name FROM place", [&](Query& row) {
      claim(row.number(0), place_body(row.number(0), row.number(1), row.text(2), row.text(3)),
            "place in an order");
    });
  }

  Try<void> settlements() {
    return each(settled_columns, [&](Query& query) {
      std::uint64_t entry = 0;
      const Settlement settled = read_settled(query, entry);
      claim(entry, settled_body(entry, settled), "settled units");
    });
  }

  Try<void> reworks() {
    return each(rework_columns, [&](Query& query) {
      std::uint64_t entry = 0;
      const Rework rework = read_rework(query, entry);
      claim(entry, rework_body(entry, rework), "new number of a board");
    });
  }

  Try<void> labels() {
    return each(label_columns, [&](Query& query) {
      std::uint64_t entry = 0;
      const LabelNote note = read_label(query, entry);
      claim(entry, label_body(entry, note), "labels");
    });
  }

  Try<void> statements() {
    return each(statement_columns, [&](Query& query) {
      std::uint64_t entry = 0;
      const Statement statement = read_statement(query, entry);
      claim(entry, statement_body(entry, statement), "signed statement");
    });
  }

  Try<void> merges() {
    return each(merge_columns, [&](Query& query) {
      std::uint64_t entry = 0;
      const Merge merge = read_merge(query, entry);
      claim(entry, merge_body(entry, merge), "merged order");
    });
  }

  Try<void> met() {
    return each("SELECT m.entry, m.text, m.station, m.serial, e.body FROM met m JOIN entry e ON "
                "e.number = m.entry",
                [&](Query& row) {
                  // The row holds less than the entry: what it holds must stand there.
                  const std::string body = row.text(4);
                  const bool told =
                      body.find("\ntext sha256:" + crypto::hex(row.bytes(1)) + "\n") !=
                          std::string::npos &&
                      body.find("\nstation " + row.text(2) + "\nserial " +
                                std::to_string(row.number(3)) + "\n") != std::string::npos;
                  Made* entry = find(row.number(0));
                  if (!told || entry == nullptr || entry->claimed) {
                    problem(fmt::format("met: the row differs from entry {}", row.number(0)));
                  }
                  if (entry != nullptr) {
                    entry->claimed = true;
                  }
                });
  }

  Try<void> tallies() {
    REG_DO(each("SELECT manifest, station, units FROM tally", [&](Query& row) {
      const auto found = sums_.find({row.bytes(0), row.text(1)});
      if (found == sums_.end() || found->second != row.number(2)) {
        problem(fmt::format("count of {}: {} units, the allotments have {}", row.text(1),
                            row.number(2), found == sums_.end() ? 0 : found->second));
      }
      if (found != sums_.end()) {
        sums_.erase(found);
      }
    }));
    for (const auto& [key, units] : sums_) {
      problem(fmt::format("count of {}: none, the allotments have {} units", key.second, units));
    }
    return {};
  }

  void unclaimed() {
    for (const Made& entry : entries_) {
      if (!entry.claimed) {
        problem(fmt::format("entry {}: what it made is not there", entry.number));
      }
    }
  }

  static std::uint64_t bits(ByteView bytes) {
    std::uint64_t count = 0;
    for (const std::uint8_t byte : bytes) {
      count += static_cast<std::uint64_t>(__builtin_popcount(byte));
    }
    return count;
  }

  Database& database_;
  std::vector<std::string> problems_;
  std::vector<Made> entries_;                       // ascending by number
  std::map<std::uint64_t, std::uint64_t> outcomes_; // the last entry of an allotment's results
  std::map<std::pair<io::Bytes, std::string>, std::uint64_t> sums_;
  std::map<std::uint64_t, std::uint64_t> units_;
};

} // namespace

Try<std::vector<std::string>> Register::check() {
  REG_TRY(transaction, Transaction::begin_reading(database_));
  (void)transaction;
  Checker checker(database_);
  REG_TRY(problems, checker.run());
  REG_TRY(head, head_of(database_));
  REG_TRY(why, why_older(head));
  if (!why.empty()) {
    problems.push_back("an older copy, or a copy by itself: " + why);
  }
  return std::move(problems);
}

} // namespace cardseal::registry
