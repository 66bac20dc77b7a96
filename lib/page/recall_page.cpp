#include <algorithm>
#include <map>
#include <set>

#include "crypto/sha256.h"
#include "page/frame.h"
#include "page/lot_parts.h"
#include "page/render.h"
#include "page/words.h"
#include "trace/trace.h"

namespace cardseal::page {
namespace {

using recall::List;

constexpr std::size_t most_rows = 500; // so that the page stays small; the CSV has every unit

// What was not given, and could move units from "possibly".
void put_missing(Fields& page, const recall::Question& question) {
  std::map<format::Digest, std::set<format::CardId>> packages;
  Fields logs;
  std::set<format::CardId> told;
  for (const recall::Given& given : question.given) {
    const bool known = std::any_of(question.packages.begin(), question.packages.end(),
                                   [&](const package::Package* package) {
                                     return package->manifest_digest == given.row.manifest;
                                   });
    if (!known) {
      packages[given.row.manifest].insert(given.row.card);
    }
    const bool logged =
        std::any_of(question.logs.begin(), question.logs.end(),
                    [&](const runlog::LogFile& log) { return log.card == given.row.card; });
    if (!logged) {
      put_allotment(logs.add("NO_LOG"), question.packages, given.row);
    }
  }
  for (const auto& [digest, cards] : packages) {
    Fields& row = page.add("NO_PACKAGE");
    row.set("PACKAGE", crypto::spell_digest(digest));
    row.set("CARDS", cards.size());
  }
  page.show_if(packages.empty() && logs.sections().empty(), "NOTHING_MISSING");
  if (!logs.sections().empty()) {
    page.add("NO_LOGS") = std::move(logs);
  }
}

void put_span(Fields& table, const recall::Question& question, const recall::Span& span,
              std::size_t index) {
  const registry::AllotmentRow& allotment = question.given[span.given].row;
  Fields& row = table.add("SPAN");
  put_allotment(row, question.packages, allotment);
  row.set("AT", index);
  row.set("COUNT", span.count);
  row.set("REASON", span.reason);
  row.set("FIRST_UNIT", trace::label_of(question.packages, allotment, span.first));
  if (span.count > 1) {
    row.add("MANY").set("LAST_UNIT",
                        trace::label_of(question.packages, allotment, span.first + span.count - 1));
  }
}

// The number of rows that found room; `room` is what is left of the page.
std::size_t put_list(Fields& page, const RecallInput& in, List list, std::size_t room) {
  const std::string key(recall::list_words[static_cast<std::size_t>(list)]);
  Fields& out = page.add("LIST");
  out.set("KEY", key);
  out.set("NAME", words_of("recall", key));
  out.set("EXPLAINED", words_of("recall-means", key));
  out.set("COUNT", in.answer.units[static_cast<std::size_t>(list)]);
  const std::uint64_t twice = in.answer.told_twice[static_cast<std::size_t>(list)];
  if (twice != 0) {
    out.add("TWICE").set("COUNT", twice);
  }
  Fields table;
  std::size_t shown = 0;
  std::size_t all = 0;
  for (std::size_t at = 0; at < in.answer.spans.size(); ++at) {
    const recall::Span& span = in.answer.spans[at];
    if (span.list == list && ++all <= room) {
      put_span(table, in.question, span, at);
      ++shown;
    }
  }
  out.show_if(all == 0, "EMPTY");
  if (shown != 0) {
    out.add("SPANS") = std::move(table);
  }
  if (all > shown) {
    out.add("NOT_SHOWN").set("COUNT", all - shown);
  }
  return shown;
}

} // namespace

std::string recall_page(const RecallInput& in) {
  Fields page;
  const auto units = [&](List list) { return in.answer.units[static_cast<std::size_t>(list)]; };
  page.set("WHERE", recall::spelled(in.question.where));
  page.set("AFFECTED", units(List::affected));
  page.set("POSSIBLY", units(List::possibly));
  page.set("CLEARED", units(List::cleared));
  page.show_if(units(List::affected) + units(List::possibly) != 0, "ANY");
  std::size_t shown = 0;
  for (const List list : {List::affected, List::possibly, List::cleared}) {
    shown += put_list(page, in, list, most_rows - shown);
  }
  if (shown < in.answer.spans.size()) {
    Fields& cut = page.add("CUT");
    cut.set("ROWS_SHOWN", shown);
    cut.set("ROWS", in.answer.spans.size());
  }
  put_missing(page, in.question);
  put_sources(page, in.sources, true);
  put_signed_by(page, in.question.packages);
  put_printed_copy(page, "recall");
  return render("recall.html", page);
}

} // namespace cardseal::page
