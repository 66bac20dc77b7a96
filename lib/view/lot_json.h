#pragma once

#include <string>
#include <vector>

#include "format/lot_texts.h"
#include "lot/account.h"
#include "lot/order.h"

namespace cardseal::view {

std::string json_of(const lot::Account& account);
std::string json_of(const std::vector<lot::Account>& accounts); // counts only
std::string json_of(const format::FirstArticle& text);
std::string json_of(const format::Concession& text);
std::string json_of(const format::Close& text);
// `errors`: what is wrong with it; `to_make`: its cards that are due.
std::string json_of(const lot::Order& order, const std::vector<lot::OrderCard>& to_make,
                    const std::vector<Error>& errors);

} // namespace cardseal::view
