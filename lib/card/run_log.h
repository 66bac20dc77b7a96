// The empty run log of a card: a header record and blank records, one a sector.
#pragma once

#include "format/card_texts.h"
#include "io/file.h"

namespace cardseal::card {

// Header, and room for every unit to be tried `tries` times with a record at begin and end.
inline constexpr std::uint32_t tries_a_unit = 3;
std::uint32_t log_sectors(std::uint32_t units);
io::Bytes empty_log(const format::CardId& card, std::uint32_t sectors);

} // namespace cardseal::card
