// The empty run log of a card: a header record and blank records, one a sector.
#pragma once

#include "format/card_texts.h"
#include "io/file.h"

namespace cardseal::card {

// Header, and format::log_records_a_unit for each unit.
std::uint32_t log_sectors(std::uint32_t units);
io::Bytes empty_log(const format::CardId& card, std::uint32_t sectors);

} // namespace cardseal::card
