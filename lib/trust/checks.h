// The form in which admission rules are written: one numbered need after the other, the first that
// fails is the answer.
#pragma once

#include "base/check_switch.h"
#include "base/outcome.h"

namespace cardseal::trust {

class Checks {
public:
  explicit Checks(std::uint16_t item = 0) : item_(item) {}

  Checks& need(bool good, Fault fault, std::uint32_t position = 0) {
    if (outcome_.ok() && !good && !switched_off(fault)) {
      outcome_ = refuse(fault, position, item_);
    }
    return *this;
  }
  Outcome outcome() const { return outcome_; }

private:
  std::uint16_t item_;
  Outcome outcome_{};
};

} // namespace cardseal::trust
