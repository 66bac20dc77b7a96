// Pages about a lot: what came back of it, which units a recall is about, which cards it has. What
// they say comes from a register, run logs and packages, as `recall`, `reconcile` and `serial list`
// have it; a number's data-of names the same in the JSON of that command. Sources are named with
// the files that they were read from, since a page on file has to say what it rests on.
#pragma once

#include <string>
#include <vector>

#include "package/package.h"
#include "recall/recall.h"
#include "register/register.h"
#include "runlog/tally.h"
#include "runlog/yields.h"

namespace cardseal::page {

struct RecallInput {
  const recall::Question& question;
  const recall::Answer& answer;
  const std::vector<std::string>& sources; // a line each
};
std::string recall_page(const RecallInput& input);

struct LotInput {
  const runlog::Account& account;
  const runlog::Yields& yields;
  const std::vector<const package::Package*>& packages; // for labels and sign-offs; may be none
  const std::vector<std::string>& sources;
};
std::string lot_page(const LotInput& input);

struct TallyInput { // of a card whose station writes no log
  const runlog::TallyAccount& account;
  const std::vector<const package::Package*>& packages; // for labels and sign-offs; may be none
  const std::vector<std::string>& sources;
};
std::string tally_page(const TallyInput& input);

struct CardOfSet {
  registry::AllotmentRow row;
  std::vector<registry::FateRow> fates;
  std::optional<format::Digest> image; // of its card image, where that was given
};

struct SetInput {
  std::string_view work_order;
  const std::vector<CardOfSet>& cards; // in the register's order
  const std::vector<const package::Package*>& packages;
  const std::vector<std::string>& sources;
};
std::string card_set_page(const SetInput& input);

} // namespace cardseal::page
