#include "recall/card_conditions.h"

#include <algorithm>
#include <iterator>

#include "crypto/sha256.h"

namespace cardseal::recall {
namespace {

std::string named(Key key, std::string_view value) {
  return std::string(key_words[static_cast<std::size_t>(key)]) + ' ' + std::string(value);
}

// Of what the row itself tells.
std::string value_of(const registry::AllotmentRow& row, Key key) {
  switch (key) {
  case Key::package:
    return crypto::spell_digest(row.manifest);
  case Key::product:
    return row.product;
  case Key::station:
    return row.station;
  case Key::card:
    return crypto::hex(row.card);
  case Key::date_code:
    return row.date_code.value_or("none");
  default:
    return row.work_class;
  }
}

Verdict judge_facts(const package::Package& package, const Condition& c) {
  if (c.key == Key::firmware) {
    const std::string firmware = crypto::hex(package.facts.firmware_digest);
    return {firmware == c.value ? Match::yes : Match::no, named(c.key, firmware)};
  }
  const auto deviations = package.facts.deviations.view();
  const bool has = std::any_of(deviations.begin(), deviations.end(),
                               [&](const auto& each) { return each.number.view() == c.value; });
  return {has ? Match::yes : Match::no,
          has ? named(c.key, c.value) : "its package has no such deviation"};
}

// A file of the package that was taken before everybody had signed tells nothing of who did.
bool is_signed_off(const package::Package& package) {
  const auto has = [&](format::Role role) {
    return std::any_of(package.signoffs.begin(), package.signoffs.end(),
                       [&](const auto& each) { return each.signoff.role == role; });
  };
  return has(format::Role::engineering) ||
         (has(format::Role::release) && has(format::Role::quality));
}

Verdict judge_signers(const std::vector<const package::Package*>& copies, const Condition& c) {
  bool complete = false;
  for (const package::Package* package : copies) {
    complete = complete || is_signed_off(*package);
    if (std::any_of(package->signoffs.begin(), package->signoffs.end(),
                    [&](const auto& each) { return crypto::hex(each.signoff.key) == c.value; })) {
      return {Match::yes, "signed off by that key"};
    }
  }
  return complete ? Verdict{Match::no, "its package was not signed off by that key"}
                  : Verdict{Match::unknown, "the file given of its package is not signed off"};
}

// Of the order that it was made for, or one that this was merged into.
Verdict judge_order(const Given& given, const Condition& c) {
  const auto whole = std::find(given.merged_into.begin(), given.merged_into.end(), c.value);
  const std::string own = named(c.key, given.row.work_order);
  if (whole != given.merged_into.end()) {
    return {Match::yes, own + ", merged into " + c.value};
  }
  return {given.row.work_order == c.value ? Match::yes : Match::no, own};
}

Verdict judge_one(const Given& given, const std::vector<const package::Package*>& packages,
                  const Condition& c) {
  const registry::AllotmentRow& row = given.row;
  if (c.key == Key::work_order) {
    return judge_order(given, c);
  }
  if (c.key != Key::firmware && c.key != Key::deviation && c.key != Key::signed_by) {
    const std::string value = value_of(row, c.key);
    return {value == c.value ? Match::yes : Match::no, named(c.key, value)};
  }
  std::vector<const package::Package*> copies;
  std::copy_if(packages.begin(), packages.end(), std::back_inserter(copies),
               [&](const auto* each) { return each->manifest_digest == row.manifest; });
  if (copies.empty()) {
    return {Match::unknown, "its package was not given: " + crypto::spell_digest(row.manifest)};
  }
  return c.key == Key::signed_by ? judge_signers(copies, c) : judge_facts(*copies.front(), c);
}

} // namespace

Verdict judge_card(const Given& given, const std::vector<const package::Package*>& packages,
                   const std::vector<Condition>& conditions) {
  Verdict worst;
  for (const Condition& c : conditions) {
    Verdict one = judge_one(given, packages, c);
    if (one.match < worst.match) {
      worst = std::move(one);
    }
  }
  return worst;
}

} // namespace cardseal::recall
