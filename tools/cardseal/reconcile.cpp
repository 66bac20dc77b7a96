#include "commands_reconcile.h"
#include "common.h"

#include <algorithm>
#include <memory>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "given.h"
#include "label.h"
#include "package/package.h"
#include "page/lot_pages.h"
#include "reconcile_print.h"
#include "register/register.h"
#include "runlog/tally.h"
#include "runlog/yields.h"
#include "view/account_json.h"

namespace cardseal::tool {
namespace {

using registry::AllotmentRow;
using registry::Register;

Try<std::vector<AllotmentRow>> rows_of(Register& numbers) {
  std::vector<AllotmentRow> rows;
  TRY_VOID(numbers.each_allotment([&](const AllotmentRow& row) { rows.push_back(row); }));
  return rows;
}

// What the register holds of these allotments now.
Try<std::vector<Kept>> keep(Register& numbers, const std::vector<std::uint64_t>& ids,
                            const std::vector<const runlog::Bits*>& bits, bool dry_run) {
  TRY(before, numbers.head());
  for (std::size_t i = 0; i < ids.size() && !dry_run; ++i) {
    TRY_VOID(numbers.add_outcome(ids[i], bits[i]->begun, bits[i]->good));
  }
  TRY(after, numbers.head());
  std::vector<Kept> kept;
  TRY_VOID(numbers.each_allotment([&](const AllotmentRow& row) {
    if (std::find(ids.begin(), ids.end(), row.id) != ids.end()) {
      kept.push_back({row.id, row.begun, row.good, after.entries - before.entries});
    }
  }));
  return kept;
}

// Before anything is kept: a page that can't be written would come too late.
Try<void> check_output(const ReconcileOptions& options) {
  if (options.json && options.output == "-") {
    return Unexpected(usage_error("standard output takes one thing", "--json and -o -", "one"));
  }
  const bool there = !options.output.empty() && options.output != "-" &&
                     io::real_system().stat(options.output).has_value();
  if (!there || options.force) {
    return {};
  }
  return Unexpected(
      at(error_of(ErrorKind::no_create, "output-exists", "there is something of this name already",
                  "", "", "name another file, or --force"),
         options.output));
}

std::vector<std::string> package_files(const ReconcileOptions& options) {
  const std::string& file = options.tally.package;
  return file.empty() ? std::vector<std::string>() : std::vector<std::string>{file};
}

// What a report rests on.
Try<std::vector<std::string>> sources_of(const ReconcileOptions& options, Register& numbers,
                                         const std::vector<package::Package>& packages) {
  TRY(head, numbers.head());
  std::vector<std::string> sources{source_of(options.registered, head)};
  sources[0] += options.dry_run ? "; these results are not kept in it" : "";
  for (const package::Package& package : packages) {
    sources.push_back(source_of(package));
  }
  return sources;
}

Try<void> write_report(const ReconcileOptions& options, Register& numbers,
                       const runlog::Account& account, const runlog::Yields& yields,
                       const std::vector<package::Package>& packages) {
  if (options.output.empty()) {
    return {};
  }
  TRY(sources, sources_of(options, numbers, packages));
  const std::string html = page::lot_page({account, yields, pointers_to(packages), sources});
  return io::write_file(io::real_system(), options.output, bytes_of(html),
                        if_exists(options.force));
}

Try<void> write_tally(const ReconcileOptions& options, Register& numbers,
                      const runlog::TallyAccount& account) {
  if (options.output.empty()) {
    return {};
  }
  TRY(packages, read_whole_packages(package_files(options)));
  TRY(sources, sources_of(options, numbers, packages));
  const std::string html = page::tally_page({account, pointers_to(packages), sources});
  return io::write_file(io::real_system(), options.output, bytes_of(html),
                        if_exists(options.force));
}

Ran reconcile_logs(const ReconcileOptions& options, Register& numbers) {
  TRY(packages, read_whole_packages(package_files(options)));
  TRY(rows, rows_of(numbers));
  TRY(account, runlog::reconcile_files(io::real_system(), options.logs, rows));
  const runlog::Yields yields = runlog::yields_of(account);
  std::vector<std::uint64_t> ids;
  std::vector<const runlog::Bits*> bits;
  for (const runlog::AllotmentAccount& one : account.allotments) {
    if (one.keepable) {
      ids.push_back(one.row.id);
      bits.push_back(&one.bits);
    }
  }
  // A card that came back unused has an account, too; before it came back its log is blank anyway.
  std::vector<runlog::Bits> blanks;
  blanks.reserve(account.untold.size());
  for (const runlog::Untold& one : account.untold) {
    if (one.whole_log && one.row.fate == registry::Fate::returned) {
      const std::size_t bytes = (one.row.units + 7) / 8;
      blanks.push_back({io::Bytes(bytes), io::Bytes(bytes)});
      ids.push_back(one.row.id);
      bits.push_back(&blanks.back());
    }
  }
  TRY(kept, keep(numbers, ids, bits, options.dry_run));
  TRY_VOID(write_report(options, numbers, account, yields, packages));
  if (options.json) {
    say(view::json_of(account, yields));
  } else if (options.output != "-") {
    print_account(account, yields);
    print_kept(kept, options.dry_run);
  }
  return account.problems.empty() ? 0 : 1;
}

Try<std::pair<std::string, std::string>> pair_of(const std::string& text, const char* what) {
  const std::vector<std::string> parts = split(text, ':');
  if (parts.size() != 2) {
    return Unexpected(usage_error(std::string(what) + " has another form", text,
                                  "two parts with ':' between them"));
  }
  return std::pair{parts[0], parts[1]};
}

Try<runlog::Tally> tally_of(const TallyOptions& options) {
  TRY(counter, pair_of(options.counter, "--counter"));
  TRY(initials, pair_of(options.initials, "--initials"));
  constexpr std::uint64_t most = 999'999'999;
  runlog::Tally tally;
  TRY(before, to_uint(counter.first, "the counter before", most));
  TRY(after, to_uint(counter.second, "the counter after", most));
  tally.issued = options.issued;
  tally.good = options.good;
  tally.scrap = options.scrap;
  tally.counter_before = before;
  tally.counter_after = after;
  tally.initials = {initials.first, initials.second};
  return tally;
}

// The card's package; null when none is named. Facts tell whether any of its stations writes no
// log; which model a card was made for, the register does not know.
Try<std::unique_ptr<package::Package>> package_of(const TallyOptions& options,
                                                  const AllotmentRow& row) {
  if (options.package.empty()) {
    return std::unique_ptr<package::Package>();
  }
  TRY(package, package::read(io::real_system(), options.package));
  Error error;
  error.kind = ErrorKind::config;
  error.place.file = options.package;
  if (package.manifest_digest != row.manifest) {
    error.code = "package-other";
    error.what = "this card was made from another package";
    error.found = crypto::spell_digest(package.manifest_digest);
    error.expected = crypto::spell_digest(row.manifest);
    error.hint = "name that one";
    return Unexpected(std::move(error));
  }
  const auto stations = package.facts.stations.view();
  if (std::ranges::all_of(stations, [](const format::StationFacts& station) {
        return station.reads == format::StationReads::signed_package;
      })) {
    error.code = "tally-logged";
    error.what = "all stations of this package write a log";
    error.found = "a tally";
    error.expected = "the card, its image or its LOG.CSV";
    error.hint = "read the card: cardseal reconcile card.img --register ...";
    return Unexpected(std::move(error));
  }
  return std::make_unique<package::Package>(std::move(package));
}

Try<std::vector<std::uint64_t>> ordinals_of(const std::vector<std::string>& named, const char* what,
                                            const package::Package* package) {
  std::vector<std::uint64_t> ordinals;
  ordinals.reserve(named.size());
  for (const std::string& text : named) {
    TRY(ordinal, package != nullptr ? ordinal_of(*package, text) : to_uint(text, what, UINT64_MAX));
    ordinals.push_back(ordinal);
  }
  return ordinals;
}

// A card may hold the work of several packages; then the tally's package tells which is meant.
Try<AllotmentRow> row_of_card(Register& numbers, const TallyOptions& options) {
  const std::string& card = options.card;
  TRY(rows, rows_of(numbers));
  std::erase_if(rows, [&](const AllotmentRow& row) { return crypto::hex(row.card) != card; });
  if (rows.size() == 1) {
    return rows.front();
  }
  if (!rows.empty()) {
    if (options.package.empty()) {
      return Unexpected(usage_error("this card holds the work of several packages",
                                    fmt::format("{} of them", rows.size()),
                                    "--package, the one that was counted: a tally for each"));
    }
    TRY(package, package::read(io::real_system(), options.package));
    const auto named = std::find_if(rows.begin(), rows.end(), [&](const AllotmentRow& row) {
      return row.manifest == package.manifest_digest;
    });
    return named != rows.end() ? *named : rows.front(); // what differs is said of the first
  }
  Error error = usage_error("this register gave nothing to that card", card,
                            "the card's id, 16 hex digits, as its set-up sheet has it",
                            "list them: cardseal serial list");
  error.kind = ErrorKind::config;
  error.code = "card-unknown";
  return Unexpected(std::move(error));
}

Ran reconcile_tally(const ReconcileOptions& options, Register& numbers) {
  TRY(tally, tally_of(options.tally));
  TRY(row, row_of_card(numbers, options.tally));
  TRY(package, package_of(options.tally, row));
  TRY(scrapped, ordinals_of(options.tally.scrapped,
                            "an ordinal of --scrapped (a serial needs --package)", package.get()));
  TRY(no_board, ordinals_of(options.tally.no_board,
                            "an ordinal of --no-board (a serial needs --package)", package.get()));
  tally.scrapped = std::move(scrapped);
  tally.no_board = std::move(no_board);
  TRY(account, runlog::judge_tally(tally, row));
  TRY(known, numbers.results_of(row.id));
  if (known) {
    TRY_VOID(runlog::judge_against(account, {known->begun, known->good}));
  }
  TRY(kept, keep(numbers, {row.id}, {&account.bits}, options.dry_run));
  TRY_VOID(write_tally(options, numbers, account));
  if (options.json) {
    say(view::json_of(account));
  } else if (options.output != "-") {
    print_tally(account);
    print_kept(kept, options.dry_run);
  }
  return account.problems.empty() ? 0 : 1;
}

} // namespace

Ran run_reconcile(const ReconcileOptions& options) {
  const bool by_hand = !options.tally.card.empty();
  if (by_hand != options.logs.empty()) {
    return Unexpected(
        usage_error("name either logs or a --tally", by_hand ? "both" : "neither", "one of them"));
  }
  TRY_VOID(check_output(options));
  TRY(numbers, Register::open(io::real_system(), options.registered, std::nullopt));
  return by_hand ? reconcile_tally(options, numbers) : reconcile_logs(options, numbers);
}

} // namespace cardseal::tool
