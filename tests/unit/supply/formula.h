// Computes a formula of a sheet again from its text, in floating point: the second reader that
// shows that the text says what the module does.
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <string_view>

#include "supply/quantity.h"
#include "support/catch.h"

namespace cardseal::supply {

class Formula {
public:
  Formula(const Sheet& sheet, Phase phase, std::string_view text)
      : sheet_(sheet), phase_(phase), left_(text) {}

  double value() {
    const double result = sum();
    good_ = good_ && left_.empty();
    return result;
  }
  bool good() const { return good_; } // the grammar held, and every id is in the sheet

private:
  double sum() {
    double result = term();
    while (good_) {
      if (take(" + ")) {
        result += term();
      } else if (take(" - ")) {
        result -= term();
      } else {
        break;
      }
    }
    return result;
  }

  double term() {
    double result = atom();
    while (good_) {
      if (take(" * ")) {
        const double factor = atom();
        result = result == 0 || factor == 0 ? 0 : result * factor; // nothing of what never ends
      } else if (take(" / ")) {
        result /= atom();
      } else {
        break;
      }
    }
    return result;
  }

  double atom() {
    if (take("(")) {
      return closed(sum());
    }
    const std::string_view word =
        left_.substr(0, left_.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789-"));
    left_.remove_prefix(word.size());
    if (take("(")) {
      return call(word);
    }
    if (!word.empty() && word[0] >= '0' && word[0] <= '9') {
      return std::stod(std::string(word));
    }
    return of(find(sheet_, word, phase_));
  }

  double call(std::string_view name) {
    if (name == "most" || name == "least") {
      return closed(of_phases(name == "most"));
    }
    const double first = sum();
    if (name == "ln") {
      return closed(std::log(first));
    }
    if (name == "up") {
      return closed(std::ceil(first - 1e-9));
    }
    good_ = good_ && take(", ") && (name == "min" || name == "max");
    const double second = sum();
    return closed(name == "min" ? std::min(first, second) : std::max(first, second));
  }

  double of_phases(bool most) {
    const std::string_view id = left_.substr(0, left_.find(')'));
    left_.remove_prefix(id.size());
    std::optional<double> result;
    for (const Quantity& quantity : sheet_) {
      if (quantity.id == id) {
        const double value = of(&quantity);
        result = most ? std::max(result.value_or(value), value)
                      : std::min(result.value_or(value), value);
      }
    }
    good_ = good_ && result.has_value();
    return result.value_or(0);
  }

  double of(const Quantity* quantity) {
    if (quantity == nullptr) {
      good_ = false;
      return 0;
    }
    return quantity->value ? static_cast<double>(*quantity->value)
                           : std::numeric_limits<double>::infinity();
  }

  double closed(double result) {
    good_ = good_ && take(")");
    return result;
  }

  bool take(std::string_view token) {
    if (left_.substr(0, token.size()) != token) {
      return false;
    }
    left_.remove_prefix(token.size());
    return true;
  }

  const Sheet& sheet_;
  Phase phase_;
  std::string_view left_;
  bool good_ = true;
};

// The text against the value: rounded as the header of the sheet says, by less than one.
inline void check_formula(const Sheet& sheet, const Quantity& quantity) {
  Formula formula(sheet, quantity.phase, quantity.formula);
  const double exact = formula.value();
  INFO(quantity.id << " = " << quantity.formula);
  REQUIRE(formula.good());
  if (!quantity.value) {
    CHECK((exact <= 0 || std::isinf(exact)));
    return;
  }
  const auto value = static_cast<double>(*quantity.value);
  const bool is_low = quantity.id.find("-low") != std::string_view::npos;
  const bool down =
      (is_low && quantity.id.find("-us") == std::string_view::npos) || quantity.id == "share-ua";
  const double room = quantity.formula.find("ln(") != std::string_view::npos
                          ? 2 + exact * 2e-5 // the logarithm is 2 millionths up, of 0.1 and more
                          : 1;
  const double above = down ? exact - value : value - exact;
  CHECK(above >= -1e-6);
  CHECK(above < room);
}

} // namespace cardseal::supply
