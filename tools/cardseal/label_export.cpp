// Numbers for a label printer, by cycle and slot. The file appears once the register knows what was
// printed, so that no label is about that nothing counts.
#include "commands_label.h"
#include "label_cards.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "label/plan.h"

namespace cardseal::tool {
namespace {

using registry::LabelFate;

struct Chosen {
  const lot::CardAccount* card = nullptr;
  std::vector<registry::Range> shown; // in the file
  std::vector<registry::Range> fresh; // noted as printed now
};

// All that are to be on boards still: what was exported before comes again, and counts once.
Try<std::vector<Chosen>> all_of(registry::Register& numbers,
                                const std::vector<const lot::CardAccount*>& cards) {
  std::vector<Chosen> out;
  for (const lot::CardAccount* card : cards) {
    TRY(notes, numbers.labels_of(card->row.id));
    const registry::LabelStates last = registry::last_of(notes, {0, card->row.units});
    out.push_back(
        {card,
         label::ranges_where(
             card->row.units,
             [&](std::uint64_t unit) { return !last[unit] || *last[unit] == LabelFate::printed; }),
         label::ranges_where(card->row.units, [&](std::uint64_t unit) { return !last[unit]; })});
  }
  return out;
}

Try<std::vector<Chosen>> anew(registry::Register& numbers, const lot::Account& account,
                              const package::Package& package,
                              const std::vector<std::string>& serials) {
  std::vector<Chosen> out;
  for (const std::string& serial : serials) {
    TRY(unit, unit_of_label(account, {package}, serial));
    TRY(notes, numbers.labels_of(unit.card->row.id));
    const registry::Range range{unit.place, 1};
    if (registry::last_of(notes, range).front() != LabelFate::scrapped) {
      return Unexpected(refused("label-live", "only a label that was scrapped is printed anew",
                                serial, "a scrapped one", "first: cardseal label scrap"));
    }
    out.push_back({unit.card, {range}, {range}});
  }
  return out;
}

std::uint64_t count(const std::vector<registry::Range>& ranges) {
  std::uint64_t units = 0;
  for (const registry::Range& range : ranges) {
    units += range.count;
  }
  return units;
}

// Such a station gives numbers in an order of its own, where it has any.
void warn_of_plain_files(const package::Package& package, const std::vector<Chosen>& chosen) {
  const bool several = std::any_of(chosen.begin(), chosen.end(), [](const Chosen& each) {
    return __builtin_popcountll(each.card->row.enabled_slots) > 1;
  });
  if (several && !package.facts.plain_files.view().empty()) {
    note(
        "cycle and slot hold for stations that read signed cards; one that reads plain files gives "
        "numbers in an order of its own");
  }
}

} // namespace

Ran run_label_export(const LabelExportOptions& options) {
  TRY(package, package::read(io::real_system(), options.package));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  TRY(account, lot::account_of(numbers, options.work_order));
  TRY(cards, numbered_cards(account, package, options.cards));
  TRY(chosen, options.serials.empty() ? all_of(numbers, cards)
                                      : anew(numbers, account, package, options.serials));
  std::string csv = label::csv_head();
  std::vector<registry::LabelNote> notes;
  std::uint64_t shown = 0;
  std::uint64_t fresh = 0;
  for (const Chosen& each : chosen) {
    csv += label::csv_lines(package, each.card->row, each.shown);
    shown += count(each.shown);
    fresh += count(each.fresh);
    for (const registry::Range& range : each.fresh) {
      notes.push_back(
          {each.card->row.id, range, LabelFate::printed, options.by, "exported for printing", ""});
    }
  }
  if (shown == 0) {
    return Unexpected(refused("label-nothing", "no label of these cards is to be printed",
                              options.work_order, "cards with labels that are not on boards yet",
                              "cardseal label show says where they are; one that is damaged is "
                              "scrapped first"));
  }
  TRY(file, io::NewFile::create(io::real_system(), options.output, if_exists(options.force)));
  TRY_VOID(file.write_at(0, bytes_of(csv)));
  if (!notes.empty()) {
    TRY_VOID(numbers.note_labels(notes));
  }
  TRY_VOID(file.commit());
  say(fmt::format("labels      {}: {}, {} of them for the first time", options.output, shown,
                  fresh));
  warn_of_plain_files(package, chosen);
  return 0;
}

} // namespace cardseal::tool
