// The supply calculation, the order of work and the times of a release as facts. Inside this
// module.
#pragma once

#include "format/facts.h"
#include "job/inputs.h"

namespace cardseal::job {

void put_supply_calculation(const ReleaseFile& release, const Inputs& in, format::Facts& out);
void put_work_steps(const ReleaseFile& release, const Inputs& in, format::Facts& out);
// The estimate always; times of none where the device's profile has none (check_times says so).
void put_cycles(const ReleaseFile& release, const Inputs& in, format::Facts& out);

} // namespace cardseal::job
