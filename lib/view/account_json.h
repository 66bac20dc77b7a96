// What came back, as JSON, schema 1.
#pragma once

#include <string>

#include "runlog/tally.h"
#include "runlog/yields.h"

namespace cardseal::view {

std::string json_of(const runlog::Account& account, const runlog::Yields& yields);
std::string json_of(const runlog::TallyAccount& account);

} // namespace cardseal::view
