// Conditions that stand in run logs, unit by unit. Inside this module.
#pragma once

#include <map>

#include "recall/card_conditions.h"
#include "runlog/copies.h"

namespace cardseal::recall {

bool is_set(const io::Bytes& bits, std::uint64_t unit); // bit 0 of byte 0 the first

// The records of one allotment, from all the logs of its card.
class UnitLog {
public:
  UnitLog(const registry::AllotmentRow& row, const std::vector<runlog::Copies>& cards);

  bool present() const { return copies_ != nullptr; }
  // No gap, no record that fits no unit of the card, and no two copies that contradict each other.
  bool whole() const {
    return copies_ != nullptr && copies_->whole && !copies_->diverged && !stray_;
  }
  // Records name ordinals; without serials nobody knows which board is which.
  bool tells_units() const { return tells_units_; }
  bool has(std::uint64_t unit) const { return works_.count(unit) != 0; }
  // It ended well, so no station begins it again.
  bool is_good(std::uint64_t unit) const {
    const auto found = works_.find(unit);
    return found != works_.end() && found->second.good;
  }
  // Whether the register knows of the very units that the log has as begun.
  bool same_begun(const std::optional<registry::Results>& results, std::uint64_t units) const;

  // Any record of the unit that meets all conditions; else any that may, a word of it being empty;
  // else no, with what was found instead.
  Verdict judge(std::uint64_t unit, const std::vector<Condition>& conditions) const;

private:
  struct Work {
    std::vector<const format::LogRecord*> records;
    bool good = false;
  };
  void add(std::uint64_t unit, const format::LogRecord& record);

  const runlog::Copies* copies_ = nullptr;
  bool tells_units_ = false;
  bool stray_ = false;
  std::map<std::uint64_t, Work> works_;
};

} // namespace cardseal::recall
