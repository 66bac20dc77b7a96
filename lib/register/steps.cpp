// What follows a reservation, and numbers that go without a card.
#include "register/register.h"

#include <algorithm>

#include <fmt/format.h>

#include "register/ledger.h"

namespace cardseal::registry {
namespace {

Error out_of_order(std::uint64_t allotment, const char* expected) {
  Error error = refused("state-order", "this step of an allotment was done, or is not due",
                        fmt::format("allotment {}", allotment), expected, "");
  error.kind = ErrorKind::internal;
  return error;
}

Try<bool> any(Database& database, const char* sql, std::uint64_t id) {
  REG_TRY(query, database.query(sql));
  return query.bind(id).next();
}

Try<bool> has_reservation(Database& database, const Reserved& given) {
  REG_TRY(query, database.query("SELECT e.digest FROM allotment a JOIN entry e ON e.number = "
                                "a.entry WHERE a.id = ?"));
  REG_TRY(row, query.bind(given.allotment).next());
  format::Digest digest{};
  return row && query.bytes_into(0, digest) && digest == given.entry;
}
Try<std::string> work_order_of(Database& database, std::uint64_t allotment) {
  REG_TRY(query, database.query("SELECT work_order FROM lot WHERE id = (SELECT lot FROM allotment "
                                "WHERE id = ?)"));
  REG_TRY(row, query.bind(allotment).next());
  return row ? query.text(0) : std::string();
}
Try<bool> is_sealed(Database& database, std::uint64_t id) {
  return any(database, "SELECT 1 FROM sealing WHERE allotment = ?", id);
}
Try<bool> is_written(Database& database, std::uint64_t id) {
  return any(database, "SELECT 1 FROM written WHERE allotment = ?", id);
}

// False when the card came back after results were last kept: that they are still the same is worth
// an entry, since then nothing can follow.
Try<bool> is_counted(Database& database, std::uint64_t allotment) {
  REG_TRY(open, any(database,
                    "SELECT 1 FROM outcome o JOIN allotment a ON a.id = o.allotment JOIN fate f ON "
                    "f.allotment = (SELECT min(id) FROM allotment WHERE card = a.card) WHERE "
                    "o.allotment = ? AND f.what = 'returned' AND f.entry > o.entry",
                    allotment));
  return !open;
}

std::uint64_t bits_of(ByteView bytes) {
  std::uint64_t count = 0;
  for (const std::uint8_t byte : bytes) {
    count += static_cast<std::uint64_t>(__builtin_popcount(byte));
  }
  return count;
}

Results joined(Results bits, ByteView begun, ByteView good) {
  for (std::size_t i = 0; i < begun.size(); ++i) {
    bits.begun[i] |= begun[i];
    bits.good[i] |= good[i];
  }
  return bits;
}

// Cards of several processes are sealed in any order; the newest is the one reserved last.
Try<bool> is_newest(Database& database, std::uint64_t allotment) {
  REG_TRY(newest, database.number("SELECT max(allotment) FROM sealing"));
  return newest == allotment;
}

Try<std::uint64_t> units_of_allotment(Database& database, std::uint64_t allotment) {
  REG_TRY(query, database.query("SELECT units FROM allotment WHERE id = ?"));
  REG_TRY(row, query.bind(allotment).next());
  return row ? query.number(0) : 0;
}

// One bit a unit, none beyond the last, and none good that was not begun.
bool fits(ByteView begun, ByteView good, std::uint64_t units) {
  if (units == 0 || begun.size() != (units + 7) / 8 || good.size() != begun.size()) {
    return false;
  }
  for (std::size_t i = 0; i < begun.size(); ++i) {
    if ((good[i] & ~begun[i]) != 0) {
      return false;
    }
  }
  return units % 8 == 0 || (begun.back() >> (units % 8)) == 0;
}

// A number past every window is a slip: what it gives up never comes back.
Try<void> check_before(Database& database, std::string_view scheme, std::uint64_t before) {
  REG_TRY(opens, open_ranges(database, scheme));
  if (opens.empty()) {
    return Unexpected(no_window(scheme));
  }
  const std::uint64_t last = opens.back().last;
  if (before == 0 || before - 1 > last) {
    return Unexpected(refused("window-past", "no window of this desk goes up to there",
                              fmt::format("before {}", before), fmt::format("1 to {}", last + 1),
                              "state the first ordinal to keep"));
  }
  return {};
}

} // namespace

Try<void> Register::seal(const Reserved& given, const format::Digest& text,
                         const KeepNewest& keep) {
  const std::uint64_t allotment = given.allotment;
  REG_TRY(step, begin());
  Head& head = step.head;
  REG_TRY(known, has_reservation(database_, given));
  REG_TRY(done, is_sealed(database_, allotment));
  if (!known || done) {
    return Unexpected(out_of_order(allotment, "reserved, and not sealed yet"));
  }
  REG_TRY(order, work_order_of(database_, allotment));
  REG_DO(check_lot_open(database_, order)); // a closure said that it was not made
  REG_DO(append(database_, head, sealed_body(head.entries + 1, allotment, text)));
  {
    REG_TRY(insert, database_.query("INSERT INTO sealing(allotment, text, entry) VALUES(?, ?, ?)"));
    REG_DO(insert.bind(allotment).bind(text).bind(head.entries).run());
  }
  REG_TRY(newest, is_newest(database_, allotment));
  if (keep) {
    REG_DO(keep(newest));
  }
  return finish(step);
}

Try<void> Register::written(std::uint64_t allotment) {
  REG_TRY(step, begin());
  Head& head = step.head;
  REG_TRY(sealed, is_sealed(database_, allotment));
  REG_TRY(done, is_written(database_, allotment));
  if (!sealed || done) {
    return Unexpected(out_of_order(allotment, "sealed, and not written yet"));
  }
  REG_DO(append(database_, head, written_body(head.entries + 1, allotment)));
  {
    REG_TRY(insert, database_.query("INSERT INTO written(allotment, entry) VALUES(?, ?)"));
    REG_DO(insert.bind(allotment).bind(head.entries).run());
  }
  return finish(step);
}

Try<Range> Register::take_by_hand(const HandRequest& request) {
  REG_DO(check_note(request.note));
  REG_TRY(step, begin());
  Head& head = step.head;
  REG_TRY(added, registry::add_windows(database_, head, request.permitted));
  (void)added;
  const std::string scheme(request.scheme.view());
  REG_DO(keep_scheme(database_, head, request.scheme, request.definition));
  const format::Maybe<format::OrdinalRange> no_limit;
  REG_TRY(place, find_place(database_, {scheme, request.count, request.capacity, request.permitted,
                                        no_limit}));
  REG_DO(append(database_, head,
                range_body(head.entries + 1, "hand", scheme, place.range, request.note)));
  REG_TRY(id, insert_range(database_, head, place, Use::hand, request.note));
  (void)id;
  REG_DO(finish(step));
  return place.range;
}

Try<std::uint64_t> Register::abandon(const AbandonRequest& request, bool rehearse) {
  REG_DO(check_note(request.note));
  REG_TRY(step, begin());
  REG_TRY(added, registry::add_windows(database_, step.head, request.permitted));
  (void)added;
  const std::string_view scheme = request.scheme.view();
  REG_DO(check_before(database_, scheme, request.before));
  REG_TRY(numbers,
          abandon_up_to(database_, step.head, scheme, request.before, Use::abandon, request.note));
  if (!rehearse) {
    REG_DO(finish(step));
  }
  return numbers;
}

Try<void> Register::add_outcome(std::uint64_t allotment, ByteView begun, ByteView good) {
  REG_TRY(step, begin());
  Head& head = step.head;
  REG_TRY(units, units_of_allotment(database_, allotment));
  if (!fits(begun, good, units)) {
    Error error =
        refused("outcome-form", "these results don't fit the allotment",
                fmt::format("{} and {} bytes", begun.size(), good.size()),
                fmt::format("one bit for each of {} units, good ones among the begun", units), "");
    error.kind = ErrorKind::bad_data;
    return Unexpected(std::move(error));
  }
  REG_TRY(before, results_of(allotment));
  const Results bits = joined(
      before.value_or(Results{io::Bytes(begun.size()), io::Bytes(begun.size())}), begun, good);
  REG_TRY(counted, is_counted(database_, allotment));
  if (before && counted && bits.begun == before->begun && bits.good == before->good) {
    return {}; // nothing new: the same log read twice
  }
  const std::uint64_t begun_count = bits_of(bits.begun);
  const std::uint64_t good_count = bits_of(bits.good);
  REG_DO(append(
      database_, head,
      outcome_body(head.entries + 1, allotment, bits.begun, bits.good, begun_count, good_count)));
  {
    REG_TRY(insert,
            database_.query("INSERT INTO outcome(allotment, begun, good, begun_count, good_count, "
                            "entry) VALUES(?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET "
                            "begun = excluded.begun, good = excluded.good, begun_count = "
                            "excluded.begun_count, good_count = excluded.good_count, entry = "
                            "excluded.entry"));
    REG_DO(insert.bind(allotment)
               .bind(bits.begun)
               .bind(bits.good)
               .bind(begun_count)
               .bind(good_count)
               .bind(head.entries)
               .run());
  }
  return finish(step);
}

} // namespace cardseal::registry
