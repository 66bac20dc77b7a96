#include "runlog/tally.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace cardseal::runlog {
namespace {

Error tally_error(const char* code, std::string what, std::string found, std::string expected) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = code;
  error.what = std::move(what);
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = "correct the tally with both people who made it";
  return error;
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
                         std::uint64_t used) {
  std::set<std::uint64_t> seen;
  for (const std::uint64_t ordinal : tally.scrapped) {
    const bool inside = ordinal >= row.range.first && ordinal - row.range.first < used;
    if (!inside || !seen.insert(ordinal).second || seen.size() > tally.scrap) {
      return Unexpected(tally_error(
          "tally-scrapped", "the scrapped ordinals don't fit the tally", std::to_string(ordinal),
          fmt::format("at most {} of {} to {}, each once", tally.scrap, row.range.first,
                      used == 0 ? row.range.first : row.range.first + used - 1)));
    }
  }
  return {};
}

void judge_boards(TallyAccount& out) {
  const Tally& t = out.tally;
  const auto problem = [&](const char* code, std::string what) {
    out.problems.push_back({code, "", std::move(what)});
  };
  if (out.used != t.good + t.scrap) {
    problem("tally-counter", fmt::format("the station counted {} boards, {} good and {} scrap came "
                                         "back",
                                         out.used, t.good, t.scrap));
  }
  if (out.used > out.row.units) {
    problem("over-quota",
            fmt::format("{} units were programmed, {} were allotted", out.used, out.row.units));
  }
}

void fill_bits(TallyAccount& out) {
  const std::size_t bytes = (out.row.units + 7) / 8;
  out.bits = {io::Bytes(bytes), io::Bytes(bytes)};
  const std::uint64_t used = std::min(out.used, out.row.units);
  for (std::uint64_t i = 0; i < used; ++i) {
    const auto bit = static_cast<std::uint8_t>(1U << (i % 8));
    const auto& scrapped = out.tally.scrapped;
    const bool bad =
        std::find(scrapped.begin(), scrapped.end(), out.row.range.first + i) != scrapped.end();
    out.bits.begun[i / 8] |= bit;
    out.bits.good[i / 8] |= out.good_known && !bad ? bit : std::uint8_t{0};
  }
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
  if (auto good = check_scrapped(tally, row, std::min(out.used, row.units)); !good) {
    return Unexpected(good.error());
  }
  judge_boards(out);
  out.good_known = out.problems.empty() && tally.scrapped.size() == tally.scrap;
  fill_bits(out);
  return out;
}

} // namespace cardseal::runlog
