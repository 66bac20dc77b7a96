// A field of a sealed text in plain words. Inside this module.
#pragma once

#include "compare/lines.h"

namespace cardseal::compare {

// Words for `fields[at]`, which is present; the other fields may be needed to tell its unit.
using Spell = std::string (*)(const Fields& fields, std::size_t at);

std::string as_sealed(const Fields& fields, std::size_t at);
std::string volts(const Fields& fields, std::size_t at);
std::string slots(const Fields& fields, std::size_t at);
std::string address(const Fields& fields, std::size_t at);
std::string bits(const Fields& fields, std::size_t at);
std::string byte_count(const Fields& fields, std::size_t at);
std::string milliseconds(const Fields& fields, std::size_t at); // of microseconds
std::string stop_after(const Fields& fields, std::size_t at);
std::string checksum_value(const Fields& fields, std::size_t at);  // the name is field 0
std::string shown_value(const Fields& fields, std::size_t at);     // the name is the field before
std::string margin_value(const Fields& fields, std::size_t at);    // the unit is field 4
std::string margin_distance(const Fields& fields, std::size_t at); // standing field 3, unit field 4

} // namespace cardseal::compare
