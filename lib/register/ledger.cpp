#include "register/ledger.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::registry {
namespace {

constexpr std::uint64_t everything = ~std::uint64_t{0};

// [first, last] less what windows of the scheme here already cover.
Try<std::vector<Range>> uncovered(Database& database, const format::Window& window) {
  REG_TRY(query, database.query("SELECT first, last FROM window WHERE scheme = ? AND last >= ? AND "
                                "first <= ? ORDER BY first"));
  query.bind(window.scheme.view()).bind(window.first).bind(window.last);
  std::vector<Range> parts;
  std::uint64_t at = window.first;
  for (;;) {
    REG_TRY(row, query.next());
    const std::uint64_t stop = row ? query.number(0) : window.last + 1;
    if (stop > at) {
      parts.push_back({at, stop - at});
    }
    if (!row) {
      return parts;
    }
    at = query.number(1) + 1;
  }
}

Try<void> add_window(Database& database, Head& head, const format::Window& window,
                     const Range& part) {
  const std::uint64_t last = part.past() - 1;
  REG_DO(append(database, head,
                window_body(head.entries + 1, window.key, window.scheme.view(), part.first, last)));
  {
    REG_TRY(insert, database.query("INSERT INTO window(key, scheme, first, last, entry) "
                                   "VALUES(?, ?, ?, ?, ?)"));
    REG_DO(insert.bind(window.key)
               .bind(window.scheme.view())
               .bind(part.first)
               .bind(last)
               .bind(head.entries)
               .run());
  }
  const std::uint64_t id = database.last_row();
  REG_TRY(insert, database.query("INSERT INTO range(window, first, past, use, note, entry) "
                                 "VALUES(?, NULL, ?, 'open', '', ?)"));
  return insert.bind(id).bind(part.first).bind(head.entries).run();
}

std::uint64_t end_of(const Wanted& wanted, const Open& open) {
  std::uint64_t end = open.last + 1;
  if (wanted.capacity != 0) {
    end = std::min(end, wanted.capacity);
  }
  if (wanted.numbers.present) {
    end = std::min(end, wanted.numbers.value.last + 1);
  }
  std::uint64_t permitted = 0;
  for (const format::Window& window : wanted.permitted) {
    if (window.scheme.view() == wanted.scheme && window.first <= open.next) {
      permitted = window.last >= open.next ? std::max(permitted, window.last + 1) : permitted;
    }
  }
  return std::min(end, permitted);
}

Error no_place(const Wanted& wanted, const std::vector<Open>& opens) {
  const std::string want = fmt::format("{} numbers of {}", wanted.count, wanted.scheme);
  if (opens.empty() ||
      std::none_of(wanted.permitted.begin(), wanted.permitted.end(),
                   [&](const auto& window) { return window.scheme.view() == wanted.scheme; })) {
    return no_window(wanted.scheme);
  }
  std::string left;
  bool scheme_ends = false;
  bool numbers_end = false;
  for (const Open& open : opens) {
    if (open.next > open.last) {
      continue;
    }
    if (wanted.numbers.present && open.next < wanted.numbers.value.first) {
      return refused(
          "limit-numbers", "the next numbers lie before those that quality allows",
          fmt::format("next is {}", open.next),
          fmt::format("{} to {}", wanted.numbers.value.first, wanted.numbers.value.last),
          fmt::format(
              "give the others up, with register, root, trust list, desk and note: cardseal "
              "serial abandon --scheme {} --before {}",
              wanted.scheme, wanted.numbers.value.first));
    }
    const std::uint64_t end = end_of(wanted, open);
    left += fmt::format("{}{} from {} on", left.empty() ? "" : ", ",
                        end > open.next ? end - open.next : 0, open.next);
    scheme_ends = scheme_ends || (wanted.capacity != 0 && end == wanted.capacity);
    numbers_end = numbers_end || (wanted.numbers.present && end <= wanted.numbers.value.last + 1 &&
                                  wanted.numbers.value.last < open.last);
  }
  if (numbers_end) {
    return refused("limit-numbers", "quality's limit leaves too few numbers", left, want,
                   "make fewer units, or have quality sign again with other --numbers");
  }
  if (scheme_ends) {
    return refused("scheme-used-up", "the scheme has too few numbers left", left, want,
                   "make fewer units, or plan the next scheme");
  }
  return refused("window-used-up", "too few numbers are left in this desk's windows",
                 left.empty() ? "none" : left, want,
                 "make fewer units, or have the owner add a window for this class of work: "
                 "cardseal trust add --window");
}

Try<void> abandon_open(Database& database, Head& head, std::string_view scheme, const Open& open,
                       std::uint64_t past, Use use, std::string_view note) {
  const Place place{open.window, {open.next, past - open.next}};
  REG_DO(append(database, head,
                range_body(head.entries + 1, use_words[static_cast<std::size_t>(use)], scheme,
                           place.range, note)));
  REG_TRY(id, insert_range(database, head, place, use, note));
  (void)id;
  return {};
}

} // namespace

Error no_window(std::string_view scheme) {
  return refused("window-none", "this desk has no window of this scheme", std::string(scheme),
                 "a window for the desk's key and this class of work on the trust list",
                 "have the owner add one: cardseal trust add --window");
}

Try<void> check_serial(const format::Id& station, std::uint64_t serial) {
  if (serial <= 999'999'999) {
    return {};
  }
  return Unexpected(refused("station-serials", "this station can get no more cards",
                            fmt::format("allotment {} of {}", serial, station.view()),
                            "at most 999999999", "give the station another id, and enrol it anew"));
}

Try<void> keep_scheme(Database& database, Head& head, const format::Id& scheme,
                      const format::Digest& definition) {
  {
    REG_TRY(query, database.query("SELECT definition FROM scheme WHERE id = ?"));
    REG_TRY(row, query.bind(scheme.view()).next());
    format::Digest before{};
    if (row && query.bytes_into(0, before) && before == definition) {
      return {};
    }
    if (row) {
      return Unexpected(
          refused("scheme-changed", "numbers were given under another definition of this scheme",
                  fmt::format("{} with {}", scheme.view(), crypto::spell_digest(definition)),
                  crypto::spell_digest(before) + ", as before",
                  "first, step, exclusions, alphabet and text of a scheme stay as they are: give "
                  "what changed an id of its own, and windows"));
    }
  }
  REG_DO(append(database, head, scheme_body(head.entries + 1, scheme.view(), definition)));
  REG_TRY(insert, database.query("INSERT INTO scheme(id, definition, entry) VALUES(?, ?, ?)"));
  return insert.bind(scheme.view()).bind(definition).bind(head.entries).run();
}

Try<std::vector<Open>> open_ranges(Database& database, std::string_view scheme) {
  REG_TRY(query, database.query("SELECT w.id, (SELECT max(past) FROM range WHERE window = w.id), "
                                "w.last FROM window w WHERE w.scheme = ? ORDER BY w.first"));
  query.bind(scheme);
  std::vector<Open> opens;
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return opens;
    }
    opens.push_back({query.number(0), query.number(1), query.number(2)});
  }
}

Try<std::size_t> add_windows(Database& database, Head& head,
                             const std::vector<format::Window>& windows) {
  std::size_t added = 0;
  for (const format::Window& window : windows) {
    REG_TRY(parts, uncovered(database, window));
    for (const Range& part : parts) {
      REG_DO(add_window(database, head, window, part));
      ++added;
    }
  }
  return added;
}

Try<Place> find_place(Database& database, const Wanted& wanted) {
  REG_TRY(opens, open_ranges(database, wanted.scheme));
  for (const Open& open : opens) {
    const bool early = wanted.numbers.present && open.next < wanted.numbers.value.first;
    const std::uint64_t end = end_of(wanted, open);
    if (!early && end > open.next && end - open.next >= wanted.count) {
      return Place{open.window, {open.next, wanted.count}};
    }
  }
  return Unexpected(no_place(wanted, opens));
}

Try<std::uint64_t> insert_range(Database& database, const Head& head, const Place& place, Use use,
                                std::string_view note) {
  REG_TRY(insert, database.query("INSERT INTO range(window, first, past, use, note, entry) "
                                 "VALUES(?, ?, ?, ?, ?, ?)"));
  REG_DO(insert.bind(place.window)
             .bind(place.range.first)
             .bind(place.range.past())
             .bind(use_words[static_cast<std::size_t>(use)])
             .bind(note)
             .bind(head.entries)
             .run());
  return database.last_row();
}

Try<std::uint64_t> abandon_up_to(Database& database, Head& head, std::string_view scheme,
                                 std::uint64_t before, Use use, std::string_view note) {
  std::vector<std::string> schemes{std::string(scheme)};
  if (scheme.empty()) {
    schemes.clear();
    REG_TRY(query, database.query("SELECT DISTINCT scheme FROM window ORDER BY scheme"));
    for (;;) {
      REG_TRY(row, query.next());
      if (!row) {
        break;
      }
      schemes.push_back(query.text(0));
    }
  }
  std::uint64_t numbers = 0;
  for (const std::string& each : schemes) {
    REG_TRY(opens, open_ranges(database, each));
    for (const Open& open : opens) {
      const std::uint64_t past = std::min(before, open.last + 1);
      if (past > open.next) {
        REG_DO(abandon_open(database, head, each, open, past, use, note));
        numbers += past - open.next;
      }
    }
  }
  return numbers;
}

Try<Enrolled> station_now(Database& database, const format::Id& station) {
  Enrolled now;
  now.station = station;
  {
    REG_TRY(query, database.query("SELECT number, first_serial FROM enrolment WHERE station = ? "
                                  "ORDER BY number DESC LIMIT 1"));
    REG_TRY(row, query.bind(station.view()).next());
    if (!row) {
      return Unexpected(refused("station-unknown", "this station is not enrolled in this register",
                                std::string(station.view()), "an enrolled station",
                                "enrol it: cardseal serial enrol"));
    }
    now.enrolment = static_cast<std::uint32_t>(query.number(0));
    now.next_serial = query.number(1);
  }
  REG_TRY(query, database.query(
                     "SELECT max(coalesce((SELECT max(serial) FROM allotment WHERE station = "
                     "?1), 0), coalesce((SELECT max(serial) FROM met WHERE station = ?1), 0))"));
  REG_TRY(row, query.bind(station.view()).next());
  now.next_serial = std::max(now.next_serial, (row ? query.number(0) : everything) + 1);
  return now;
}

Try<void> insert_enrolment(Database& database, Head& head, const format::Id& station,
                           std::uint64_t number, std::uint64_t first_serial) {
  REG_DO(append(database, head,
                enrolment_body(head.entries + 1, station.view(), number, first_serial)));
  REG_TRY(insert, database.query("INSERT INTO enrolment(station, number, first_serial, entry) "
                                 "VALUES(?, ?, ?, ?)"));
  return insert.bind(station.view()).bind(number).bind(first_serial).bind(head.entries).run();
}

Try<void> check_note(const std::string& note, const char* what) {
  const bool printable =
      std::all_of(note.begin(), note.end(), [](char c) { return c >= ' ' && c <= '~'; });
  if (note.empty() || note.size() > 96 || !printable) {
    return Unexpected(error_of(ErrorKind::usage, "note-form", fmt::format("{} can't be kept", what),
                               note, "1 to 96 printable ASCII characters",
                               "write it shortly and without accents"));
  }
  return {};
}

} // namespace cardseal::registry
