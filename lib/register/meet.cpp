// Meeting a sealed allotment: does this register's history hold it?
#include "register/register.h"

#include <algorithm>

#include <fmt/format.h>

#include "register/ledger.h"

namespace cardseal::registry {
namespace {

constexpr std::uint64_t all_numbers = ~std::uint64_t{0};

// The allotment of this station and serial here, when its entry is the one named.
Try<bool> gave(Database& database, const format::Allotment& met) {
  if (!met.register_entry.present) {
    return false;
  }
  REG_TRY(query, database.query("SELECT e.digest FROM allotment a JOIN entry e ON e.number = "
                                "a.entry WHERE a.station = ? AND a.serial = ?"));
  REG_TRY(row, query.bind(met.station.view()).bind(met.serial).next());
  format::Digest digest{};
  return row && query.bytes_into(0, digest) && digest == met.register_entry.value;
}

// Another text under one entry: this register's own reservation, signed twice by somebody.
Try<bool> other_text(Database& database, const Evidence& evidence) {
  REG_TRY(query, database.query("SELECT s.text FROM sealing s JOIN allotment a ON a.id = "
                                "s.allotment WHERE a.station = ? AND a.serial = ?"));
  REG_TRY(row,
          query.bind(evidence.allotment.station.view()).bind(evidence.allotment.serial).next());
  format::Digest digest{};
  return row && query.bytes_into(0, digest) && digest != evidence.text;
}

Try<bool> has_numbers_here(Database& database, const Evidence& evidence,
                           const std::vector<format::Window>& permitted) {
  for (const format::Window& window : permitted) {
    if (window.key == evidence.signer) {
      return true;
    }
  }
  REG_TRY(query, database.query("SELECT 1 FROM window WHERE key = ? LIMIT 1"));
  return query.bind(evidence.signer).next();
}

Try<bool> met_before(Database& database, const Evidence& evidence) {
  REG_TRY(query, database.query("SELECT 1 FROM met WHERE text = ?"));
  return query.bind(evidence.text).next();
}

// Behind the last number that it gives, or that its boards have.
std::uint64_t past_of(const format::Allotment& met) {
  return format::ordinal_at(met, met.count - 1) + 1;
}

// Numbers of the evidence that this register gave to something else.
Try<std::vector<std::string>> given_twice(Database& database, const Evidence& evidence) {
  const format::Allotment& met = evidence.allotment;
  std::vector<std::string> problems;
  if (!met.scheme.present || met.numbers != format::Numbers::fresh) {
    return problems; // nothing was given
  }
  REG_TRY(query,
          database.query("SELECT r.first, r.past, r.use FROM window w JOIN range r ON r.window = "
                         "w.id WHERE w.scheme = ?1 AND r.first < ?3 AND r.past > ?2 AND r.use IN "
                         "('allot', 'hand') ORDER BY r.first"));
  query.bind(met.scheme.value.view()).bind(met.first).bind(met.first + met.count);
  for (;;) {
    REG_TRY(row, query.next());
    if (!row) {
      return problems;
    }
    const std::uint64_t first = std::max(query.number(0), met.first);
    const std::uint64_t past = std::min(query.number(1), met.first + met.count);
    problems.push_back(fmt::format("numbers {} to {} of {} are given twice: by this register ({}), "
                                   "and on card {} for {} by another",
                                   first, past - 1, met.scheme.value.view(),
                                   query.text(2) == "hand" ? "by hand" : "on a card",
                                   crypto::hex(met.card), met.station.view()));
  }
}

Try<void> record(Database& database, Head& head, const Evidence& evidence, Standing standing) {
  REG_DO(append(
      database, head,
      met_body(head.entries + 1, evidence, standing_words[static_cast<std::size_t>(standing)])));
  REG_TRY(insert,
          database.query("INSERT INTO met(text, station, serial, entry) VALUES(?, ?, ?, ?)"));
  return insert.bind(evidence.text)
      .bind(evidence.allotment.station.view())
      .bind(evidence.allotment.serial)
      .bind(head.entries)
      .run();
}

// The station goes on above what it has met.
Try<void> raise_enrolment(Database& database, Head& head, const format::Allotment& met) {
  Try<Enrolled> now = station_now(database, met.station);
  if (!now && now.error().code != "station-unknown") {
    return Unexpected(std::move(now).error());
  }
  if (now && now->enrolment >= met.enrolment) {
    return {};
  }
  return insert_enrolment(database, head, met.station, met.enrolment, 1);
}

// Numbers that were given up when the history was first found to lack something: what is met of the
// lost part later says nothing new.
Try<bool> given_up_as_lost(Database& database, const format::Allotment& met) {
  REG_TRY(query,
          database.query("SELECT 1 FROM window w JOIN range r ON r.window = w.id WHERE "
                         "w.scheme = ? AND r.first <= ? AND r.past >= ? AND r.use = 'lost'"));
  if (!met.scheme.present) {
    return false;
  }
  return query.bind(met.scheme.value.view()).bind(met.first).bind(past_of(met)).next();
}

// A range stated by hand: whoever stated it kept the list, so the register goes on behind it. A
// missing history says nothing about how much is missing: nothing of any window is safe.
Try<std::uint64_t> abandon_for(Database& database, Head& head, const Evidence& evidence,
                               Standing standing) {
  const format::Allotment& met = evidence.allotment;
  if (standing == Standing::missing) {
    REG_TRY(lost, given_up_as_lost(database, met));
    if (lost) {
      return 0;
    }
    return abandon_up_to(database, head, "", all_numbers, Use::lost,
                         fmt::format("history lacks card {}", crypto::hex(met.card)));
  }
  return met.scheme.present
             ? abandon_up_to(database, head, met.scheme.value.view(), past_of(met), Use::abandon,
                             fmt::format("given by hand on card {}", crypto::hex(met.card)))
             : Try<std::uint64_t>(0);
}

// Nothing of any window is safe.
Try<std::uint64_t> give_up(Database& database, Head& head,
                           const std::vector<format::Window>& permitted, const std::string& why) {
  REG_TRY(added, registry::add_windows(database, head, permitted));
  (void)added;
  return abandon_up_to(database, head, "", all_numbers, Use::lost, why);
}

Try<void> compare(Database& database, Head& head, const Evidence& evidence,
                  const std::vector<format::Window>& permitted, Met& met) {
  REG_TRY(known, gave(database, evidence.allotment));
  if (known) {
    REG_TRY(other, other_text(database, evidence));
    if (other) {
      met.problems.push_back(fmt::format("another text than the one sealed here names the entry of "
                                         "allotment {} for {}",
                                         evidence.allotment.serial,
                                         evidence.allotment.station.view()));
    }
    return {};
  }
  REG_TRY(problems, given_twice(database, evidence));
  met.problems.insert(met.problems.end(), problems.begin(), problems.end());
  REG_TRY(ours, has_numbers_here(database, evidence, permitted));
  if (!ours) {
    met.standing = Standing::other_desk;
    return {};
  }
  met.standing = evidence.allotment.register_entry.present ? Standing::missing : Standing::by_hand;
  REG_TRY(before, met_before(database, evidence));
  if (before) {
    return {};
  }
  REG_TRY(added, registry::add_windows(database, head, permitted));
  (void)added;
  REG_DO(record(database, head, evidence, met.standing));
  REG_DO(raise_enrolment(database, head, evidence.allotment));
  REG_TRY(abandoned, abandon_for(database, head, evidence, met.standing));
  met.abandoned += abandoned;
  return {};
}

} // namespace

Try<bool> Register::knows(const Evidence& evidence) {
  REG_TRY(given, gave(database_, evidence.allotment));
  return given ? Try<bool>(true) : met_before(database_, evidence);
}

Try<Met> Register::meet(const Evidence& evidence, const std::vector<format::Window>& permitted) {
  REG_TRY(transaction, Transaction::begin(database_));
  REG_TRY(head, head_of(database_));
  Step step{std::move(transaction), head};
  Met met;
  REG_TRY(why, why_older(step.head));
  if (!why.empty()) {
    REG_TRY(abandoned, give_up(database_, step.head, permitted, why));
    met.abandoned = abandoned;
    met.problems.push_back("this register is an older copy, or a copy by itself: " + why);
  }
  REG_DO(compare(database_, step.head, evidence, permitted, met));
  if (step.head.entries != head.entries || !why.empty()) {
    REG_DO(finish(step));
  }
  return met;
}

} // namespace cardseal::registry
