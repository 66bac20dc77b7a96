// What was scanned when boards were put in, held against what was exported; labels that were
// scrapped; and where the labels of a lot are.
#include "commands_label.h"
#include "label_cards.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "label/scan.h"
#include "release.h"

namespace cardseal::tool {
namespace {

using registry::LabelFate;

Try<const lot::CardAccount*> card_of_scan(const LabelScanOptions& options,
                                          const lot::Account& account,
                                          const package::Package& package) {
  std::vector<std::string> ids;
  if (!options.card.empty()) {
    ids.push_back(options.card);
  }
  TRY(cards, numbered_cards(account, package, ids));
  if (cards.size() != 1) {
    return Unexpected(usage_error("a scan is of one card", fmt::format("{} cards", cards.size()),
                                  "--card ID", "cardseal lot show lists them"));
  }
  return cards.front();
}

Try<std::vector<runlog::LogFile>> read_logs(const LabelScanOptions& options,
                                            const registry::AllotmentRow& row) {
  std::vector<runlog::LogFile> logs;
  for (const std::string& file : options.logs) {
    TRY(log, runlog::read_log(io::real_system(), file));
    logs.push_back(std::move(log));
  }
  TRY_VOID(label::check_logs(row, logs));
  return logs;
}

std::string place_words(const package::Package& package, const registry::AllotmentRow& row,
                        const registry::Range& range) {
  const label::Spot first = label::planned_spot(row, range.first);
  const label::Spot last = label::planned_spot(row, range.past() - 1);
  return fmt::format("{}, planned for cycle {} slot {} to cycle {} slot {}",
                     units_words(row, range, {package}), first.cycle, first.slot, last.cycle,
                     last.slot);
}

void say_labels(const package::Package& package, const registry::AllotmentRow& row,
                const registry::LabelStates& last) {
  say(fmt::format("card        {}  {}, {} units", crypto::hex(row.card), row.station, row.units));
  const auto lines = [&](const char* word, std::optional<LabelFate> fate) {
    for (const registry::Range& range :
         label::ranges_where(row.units, [&](std::uint64_t unit) { return last[unit] == fate; })) {
      say(fmt::format("  {:<10}{}", word, place_words(package, row, range)));
    }
  };
  lines("applied", LabelFate::applied);
  lines("scrapped", LabelFate::scrapped);
  lines("printed", LabelFate::printed);
  lines("none", std::nullopt);
}

} // namespace

Try<std::vector<const lot::CardAccount*>> numbered_cards(const lot::Account& account,
                                                         const package::Package& package,
                                                         const std::vector<std::string>& ids) {
  std::vector<const lot::CardAccount*> cards;
  for (const lot::CardAccount& card : account.cards) {
    const bool named =
        ids.empty() || std::find(ids.begin(), ids.end(), crypto::hex(card.row.card)) != ids.end();
    if (named && card.row.manifest == package.manifest_digest && card.row.range.count != 0) {
      cards.push_back(&card);
    }
  }
  for (const std::string& id : ids) {
    if (std::none_of(cards.begin(), cards.end(), [&](const lot::CardAccount* card) {
          return crypto::hex(card->row.card) == id;
        })) {
      return Unexpected(error_of(ErrorKind::config, "card-other",
                                 "this lot has no card of that id with numbers of this package", id,
                                 "one of this lot", "cardseal lot show lists them"));
    }
  }
  if (cards.empty()) {
    return Unexpected(error_of(ErrorKind::config, "label-none",
                               "no card of this lot has numbers of this package",
                               account.work_order, "a package with a serial scheme",
                               "name the package that its cards were made from"));
  }
  return cards;
}

Ran run_label_scan(const LabelScanOptions& options) {
  TRY(package, package::read(io::real_system(), options.package));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY(account, lot::account_of(numbers, options.work_order));
  TRY(card, card_of_scan(options, account, package));
  TRY(notes, numbers.labels_of(card->row.id));
  const registry::LabelStates states = registry::last_of(notes, {0, card->row.units});
  TRY(rows, label::read_scan(io::real_system(), options.scan));
  TRY(logs, read_logs(options, card->row));
  TRY(loaded, label::judge(numbers, {package, card->row, states, options.scan, std::move(rows),
                                     std::move(logs)}));
  if (!loaded.errors.empty()) {
    note(fmt::format("{} labels scanned; nothing was noted", loaded.rows));
    return Unexpected(report(loaded.errors, options.json));
  }
  std::vector<registry::LabelNote> applied;
  std::uint64_t fresh = 0;
  for (const registry::Range& range : loaded.applied) {
    fresh += range.count;
    applied.push_back({card->row.id, range, LabelFate::applied, options.by,
                       options.logs.empty() ? "scanned, by the plan" : "scanned, by the run log",
                       ""});
  }
  if (!applied.empty()) {
    TRY_VOID(numbers.note_labels(applied, options.dry_run));
  }
  say(fmt::format(
      "scanned     {} labels of card {}: each where its number is; {} for the first time",
      loaded.rows, crypto::hex(card->row.card), fresh));
  if (options.dry_run) {
    note("dry run: nothing was noted");
  }
  return 0;
}

Ran run_label_scrap(const LabelScrapOptions& options) {
  TRY(package, package::read(io::real_system(), options.package));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY(account, lot::account_of(numbers, options.work_order));
  std::vector<registry::LabelNote> notes;
  for (const std::string& serial : options.serials) {
    TRY(unit, unit_of_label(account, {package}, serial));
    notes.push_back(
        {unit.card->row.id, {unit.place, 1}, LabelFate::scrapped, options.by, options.note, ""});
  }
  TRY_VOID(numbers.note_labels(notes)); // all or none
  for (const std::string& serial : options.serials) {
    say(fmt::format("scrapped    label {}", escaped(serial)));
  }
  return 0;
}

Ran run_label_show(const LabelShowOptions& options) {
  TRY(package, package::read(io::real_system(), options.package));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY(account, lot::account_of(numbers, options.work_order));
  TRY(cards, numbered_cards(account, package, {}));
  for (const lot::CardAccount* card : cards) {
    TRY(notes, numbers.labels_of(card->row.id));
    say_labels(package, card->row, registry::last_of(notes, {0, card->row.units}));
  }
  return 0;
}

} // namespace cardseal::tool
