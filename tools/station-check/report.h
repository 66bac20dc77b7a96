// A verdict for people and as JSON (schema 1), from the same struct.
#pragma once

#include <string>

#include "check.h"

namespace cardseal::station_check {

std::string text_of(const Verdict& verdict, const std::string& card);
std::string json_of(const Verdict& verdict, const std::string& card);
std::string json_of(const Error& error);

} // namespace cardseal::station_check
