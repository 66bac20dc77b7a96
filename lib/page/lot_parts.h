// What the pages about a lot share. Inside this module.
#pragma once

#include "page/fields.h"
#include "page/lot_pages.h"

namespace cardseal::page {

// `from_logs`: what stands on the page rests on run logs too, and it is said what those are worth.
void put_sources(Fields& page, const std::vector<std::string>& sources, bool from_logs);
// Every sign-off of every package that was given.
void put_signed_by(Fields& page, const std::vector<const package::Package*>& packages);
// What a card went through, each note with who says so.
void put_fates(Fields& row, const std::vector<registry::FateRow>& fates);
// Card, station, work order and the labels of its units.
void put_allotment(Fields& row, const std::vector<const package::Package*>& packages,
                   const registry::AllotmentRow& allotment);

// First-pass yield by slot, a drawing a station: SLOT_CHART.
void put_slot_charts(Fields& page, const runlog::Yields& yields);
// A control chart of the lots: LOT_CHART.
void put_lot_chart(Fields& page, const runlog::Yields& yields);
// What went wrong, the most frequent first: PARETO.
void put_pareto(Fields& page, const std::vector<runlog::Failure>& failures);

std::string per_cent(double part); // "96.7 %"
std::string share(std::uint64_t part, std::uint64_t all);

} // namespace cardseal::page
