// The parts of a review page, a file each. Every one fills the fields of its section in
// templates/pages/review-*.html. Inside this module.
#pragma once

#include "page/fields.h"
#include "page/page.h"

namespace cardseal::page {

void put_changes(Fields& page, const ReviewInput& input);
void put_identity(Fields& page, const ReviewInput& input);
void put_signoffs(Fields& page, const ReviewInput& input);
void put_findings(Fields& page, const format::Facts& facts);
void put_firmware(Fields& page, const package::Package& package);
void put_settings(Fields& page, const package::Package& package);
void put_supply(Fields& page, const package::Package& package);
void put_formulas(Fields& page, const format::Facts& facts);
void put_work(Fields& page, const format::Facts& facts);
void put_times(Fields& page, const format::Facts& facts);
void put_serials(Fields& page, const format::Manifest& manifest);

// Shared with the pages for the floor.
void put_device(Fields& page, const format::Manifest& manifest);
void put_cautions(Fields& page, const package::Package& package);
void put_steps(Fields& page, const format::Facts& facts);
void put_panel(Fields& page, const format::Facts& facts, std::uint32_t slots);
void put_deviations(Fields& page, const format::Facts& facts);

} // namespace cardseal::page
