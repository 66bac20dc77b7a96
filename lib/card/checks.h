// What is looked at before any part of a card is made: each job as the card's station would judge
// it, and what several jobs on one card must not have in common.
#pragma once

#include "card/make.h"

namespace cardseal::card {

// A station remembers no more allotments that it began (trust::kept_allotments); with more on one
// card it could not go back to the first.
inline constexpr std::size_t most_jobs = 4;

// What the packages' facts say of the model, one for each job. An error when one says nothing of
// it, or when they want different cards.
Try<std::vector<const format::StationFacts*>> models_of(const MakeInput& input);

Try<void> check_job(const MakeInput& input, const CardJob& job, const format::StationFacts& station,
                    const format::Allotment& allotment);

// Titles, plain files and numbers, each pair of jobs; and the run log of all of them.
Try<void> check_together(const MakeInput& input,
                         const std::vector<const format::StationFacts*>& stations);

Try<const format::StationFacts*> find_model(const package::Package& package,
                                            const format::Id& model);

} // namespace cardseal::card
