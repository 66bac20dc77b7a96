#include "page/frame.h"
#include "page/lot_pages.h"
#include "page/lot_parts.h"
#include "page/render.h"
#include "runlog/statistics.h"
#include "trace/trace.h"

namespace cardseal::page {
namespace {

constexpr std::size_t most_scrapped = 500; // rows, so that the page stays small

void put_counts(Fields& page, const runlog::TallyAccount& account) {
  const runlog::Tally& t = account.tally;
  const std::uint64_t worked = t.good + t.scrap;
  const runlog::Interval range = runlog::wilson({t.good, worked});
  page.set("ONE_PERSON", t.initials[0]);
  page.set("OTHER_PERSON", t.initials[1]);
  page.set("BOARDS", t.issued);
  page.set("GOOD", t.good);
  page.set("SCRAP", t.scrap);
  page.set("RETURNED", account.returned);
  page.set("BEFORE", t.counter_before);
  page.set("AFTER", t.counter_after);
  page.set("USED", account.used);
  page.set("BEGUN", account.begun);
  page.set("NOT_BEGUN", account.row.units - account.begun);
  page.set("GOOD_SHARE", share(t.good, worked));
  page.set("GOOD_LOW", per_cent(range.low));
  page.set("GOOD_HIGH", per_cent(range.high));
}

void put_tally_problems(Fields& page, const runlog::TallyAccount& account) {
  std::size_t index = 0;
  for (const runlog::Problem& problem : account.problems) {
    Fields& row = page.add("PROBLEM");
    row.set("AT", index++);
    row.set("WHAT", problem.what);
    row.set("CODE", problem.code);
  }
  page.show_if(!account.good_known && account.problems.empty(), "GOOD_UNKNOWN");
  page.show_if(!account.problems.empty(), "COUNTS_DIFFER");
  page.show(account.problems.empty() && account.good_known ? "NO_EXCEPTIONS" : "NOT_CLEAN");
}

void put_scrapped(Fields& page, const TallyInput& in) {
  const runlog::Tally& t = in.account.tally;
  page.show_if(t.scrap == 0, "NO_SCRAP");
  std::size_t index = 0;
  for (const std::uint64_t ordinal : t.scrapped) {
    if (index == most_scrapped) {
      break;
    }
    Fields& row = page.add("SCRAPPED_UNIT");
    row.set("AT", index++);
    row.set("ORDINAL", ordinal);
    row.set("LABEL", trace::label_of(in.packages, in.account.row,
                                     in.account.row.unit_of(ordinal).value_or(0))); // as judged
  }
  if (!t.no_board.empty()) {
    page.add("NO_BOARD").set("COUNT", t.no_board.size());
  }
  if (t.scrapped.size() > index) {
    page.add("NOT_SHOWN").set("COUNT", t.scrapped.size() - index);
  }
  if (t.scrap > t.scrapped.size()) {
    page.add("NOT_NAMED").set("COUNT", t.scrap - t.scrapped.size());
  }
}

} // namespace

std::string tally_page(const TallyInput& in) {
  Fields page;
  put_allotment(page, in.packages, in.account.row);
  put_counts(page, in.account);
  put_tally_problems(page, in.account);
  put_scrapped(page, in);
  put_sources(page, in.sources, false);
  put_signed_by(page, in.packages);
  put_printed_copy(page, "tally");
  return render("tally.html", page);
}

} // namespace cardseal::page
