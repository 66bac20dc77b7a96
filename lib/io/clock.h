// The only places where time and chance enter.
#pragma once

#include "base/number.h"
#include "diag/error.h"

namespace cardseal::io {

Utc now();                           // the system's clock, whole seconds
Try<void> fill_random(ByteSpan out); // the kernel's generator

} // namespace cardseal::io
