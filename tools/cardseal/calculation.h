// What people read of the supply calculation, the order of work and the times.
#pragma once

#include <string>

#include "format/facts.h"

namespace cardseal::tool {

enum class Formulas : bool { left_out, shown };

// A table of margins at the worst, the steps with their reasons, and how long a cycle and a lot
// take; with formulas also what every value follows from. Ends with a line feed.
std::string describe_calculation(const format::Facts& facts, Formulas formulas);

} // namespace cardseal::tool
