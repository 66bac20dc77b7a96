#include "runlog/tally.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace cardseal::runlog {
namespace {

constexpr std::uint64_t most_boards = 9'999'999; // a card has no more units

Error tally_error(const char* code, std::string what, std::string found, std::string expected) {
  return error_of(ErrorKind::bad_data, code, std::move(what), std::move(found), std::move(expected),
                  "correct the tally with both people who made it");
}

bool is_initials(const std::string& text) {
  return text.size() >= 2 && text.size() <= 4 &&
         std::all_of(text.begin(), text.end(), [](char c) { return c >= 'A' && c <= 'Z'; });
}

Try<void> check_people(const Tally& tally) {
  const auto& [one, other] = tally.initials;
  if (!is_initials(one) || !is_initials(other) || one == other) {
    return Unexpected(tally_error("tally-initials", "a tally needs the initials of two people",
                                  one + " and " + other, "two different ones of 2 to 4 capitals"));
  }
  return {};
}

Try<void> check_counts(const Tally& tally) {
  for (const std::uint64_t boards : {tally.issued, tally.good, tally.scrap}) {
    if (boards > most_boards) {
      return Unexpected(tally_error("tally-boards", "so many boards are a slip of the pen",
                                    std::to_string(boards), fmt::format("up to {}", most_boards)));
    }
  }
  if (tally.counter_after < tally.counter_before) {
    return Unexpected(
        tally_error("tally-counter", "the counter ran backwards",
                    fmt::format("{} before, {} after", tally.counter_before, tally.counter_after),
                    "a count that grows"));
  }
  if (tally.good + tally.scrap > tally.issued) {
    return Unexpected(tally_error("tally-boards", "more boards came back than were issued",
                                  fmt::format("{} good and {} scrap", tally.good, tally.scrap),
                                  fmt::format("{} in all, at most", tally.issued)));
  }
  return {};
}

Try<void> check_scrapped(const Tally& tally, const registry::AllotmentRow& row,
                         std::uint64_t begun) {
  std::set<std::uint64_t> seen;
  const auto check = [&](const std::vector<std::uint64_t>& named, const char* what,
                         std::uint64_t most) -> Try<void> {
    for (const std::uint64_t ordinal : named) {
      const bool inside = row.unit_of(ordinal).value_or(begun) < begun;
      if (!inside || !seen.insert(ordinal).second || named.size() > most) {
        return Unexpected(
            tally_error("tally-scrapped", what, std::to_string(ordinal),
                        fmt::format("at most {} of {} to {}, each once", most, row.range.first,
                                    row.ordinal_of(begun == 0 ? 0 : begun - 1))));
      }
    }
    return {};
  };
  Try<void> good = check(tally.scrapped, "the scrapped ordinals don't fit the tally", tally.scrap);
  return good ? check(tally.no_board, "the ordinals without a board don't fit the tally", begun)
              : std::move(good);
}

void judge_boards(TallyAccount& out) {
  const Tally& t = out.tally;
  const auto problem = [&](const char* code, std::string what) {
    out.problems.push_back({code, "", std::move(what)});
  };
  const std::uint64_t told = t.good + t.scrap + t.no_board.size();
  if (out.used != told) {
    problem("tally-counter",
            fmt::format("the station's counter says {}, {} good and {} scrap came back{}", out.used,
                        t.good, t.scrap,
                        t.no_board.empty()
                            ? std::string()
                            : fmt::format(", and {} units without a board", t.no_board.size())));
  }
  if (const std::uint64_t most = std::max(out.used, told); most > out.row.units) {
    problem("over-quota",
            fmt::format("{} units were programmed, {} were allotted", most, out.row.units));
  }
}

void fill_bits(TallyAccount& out) {
  const std::size_t bytes = (out.row.units + 7) / 8;
  out.bits = {io::Bytes(bytes), io::Bytes(bytes)};
  for (std::uint64_t i = 0; i < out.begun; ++i) {
    const auto bit = static_cast<std::uint8_t>(1U << (i % 8));
    const auto names = [&](const std::vector<std::uint64_t>& named) {
      return std::find(named.begin(), named.end(), out.row.ordinal_of(i)) != named.end();
    };
    const bool bad = names(out.tally.scrapped) || names(out.tally.no_board);
    out.bits.begun[i / 8] |= bit;
    out.bits.good[i / 8] |= out.good_known && !bad ? bit : std::uint8_t{0};
  }
}

bool bit_at(const io::Bytes& bits, std::uint64_t unit) {
  return unit / 8 < bits.size() && (bits[unit / 8] >> (unit % 8) & 1U) != 0;
}

// The result of units stands whatever is told later, so a correction can only go beside it.
Error kept_error(std::string what, std::string found, std::string expected) {
  Error error = tally_error("tally-kept", std::move(what), std::move(found), std::move(expected));
  error.hint = "what the register holds stands; write the correction on the sheet and keep it with "
               "the lot";
  return error;
}

} // namespace

Try<TallyAccount> judge_tally(const Tally& tally, const registry::AllotmentRow& row) {
  if (auto good = check_people(tally); !good) {
    return Unexpected(good.error());
  }
  if (auto good = check_counts(tally); !good) {
    return Unexpected(good.error());
  }
  TallyAccount out;
  out.row = row;
  out.tally = tally;
  out.used = tally.counter_after - tally.counter_before;
  out.returned = tally.issued - tally.good - tally.scrap;
  const std::uint64_t told = tally.good + tally.scrap + tally.no_board.size();
  out.begun = std::min(std::max(out.used, told), row.units);
  if (auto good = check_scrapped(tally, row, out.begun); !good) {
    return Unexpected(good.error());
  }
  judge_boards(out);
  out.good_known = out.problems.empty() && tally.scrapped.size() == tally.scrap;
  fill_bits(out);
  return out;
}

Try<void> judge_against(const TallyAccount& account, const Bits& kept) {
  std::uint64_t good = 0;
  std::uint64_t begun = 0;
  std::uint64_t past_begun = 0;
  for (std::uint64_t unit = 0; unit < account.row.units; ++unit) {
    const bool is_begun = bit_at(kept.begun, unit);
    begun += is_begun ? 1 : 0;
    past_begun = is_begun ? unit + 1 : past_begun;
    good += bit_at(kept.good, unit) || bit_at(account.bits.good, unit) ? 1 : 0;
  }
  for (const auto& named : {account.tally.scrapped, account.tally.no_board}) {
    for (const std::uint64_t ordinal : named) {
      if (bit_at(kept.good, account.row.unit_of(ordinal).value_or(0))) { // inside, as judged
        return Unexpected(
            kept_error("a board that is scrap or missing here is good in the register",
                       fmt::format("ordinal {}", ordinal), "one that is not good"));
      }
    }
  }
  if (begun != past_begun) {
    return Unexpected(
        kept_error("the register has results from the log of this card's station",
                   fmt::format("{} units begun, the last of them unit {}", begun, past_begun),
                   "a tally only for a station that writes no log"));
  }
  if (begun > account.begun) {
    return Unexpected(kept_error("the register holds more units as begun than this tally counts",
                                 std::to_string(begun), fmt::format("{} at most", account.begun)));
  }
  if (good > account.tally.good) {
    return Unexpected(kept_error("with this tally the register would hold too many units as good",
                                 std::to_string(good),
                                 fmt::format("{}, as counted", account.tally.good)));
  }
  return {};
}

} // namespace cardseal::runlog
