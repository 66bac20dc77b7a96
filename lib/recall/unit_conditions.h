// Conditions that stand in run logs, unit by unit. Inside this module.
#pragma once

#include <map>

#include "recall/card_conditions.h"
#include "runlog/copies.h"

namespace cardseal::recall {

// The records of one allotment, from all the logs of its card.
class UnitLog {
public:
  UnitLog(const registry::AllotmentRow& row, const std::vector<runlog::Copies>& cards);

  bool present() const { return copies_ != nullptr; }
  // No gap, and the copies that were given don't contradict one another.
  bool whole() const { return copies_ != nullptr && copies_->whole && !copies_->diverged; }
  // Records name ordinals; without serials nobody knows which board is which.
  bool tells_units() const { return tells_units_; }
  bool has(std::uint64_t unit) const { return records_.count(unit) != 0; }

  // Any record of the unit that meets all conditions; else any that may, a word of it being empty;
  // else no, with what was found instead.
  Verdict judge(std::uint64_t unit, const std::vector<Condition>& conditions) const;

private:
  const runlog::Copies* copies_ = nullptr;
  bool tells_units_ = false;
  std::map<std::uint64_t, std::vector<const format::LogRecord*>> records_;
};

} // namespace cardseal::recall
