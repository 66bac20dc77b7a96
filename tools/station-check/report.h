// A verdict in plain words; lib/view has it as JSON.
#pragma once

#include <string>

#include "check.h"

namespace cardseal::station_check {

std::string text_of(const Verdict& verdict, const std::string& card);

} // namespace cardseal::station_check
