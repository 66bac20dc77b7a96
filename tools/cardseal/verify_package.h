#pragma once

#include "common.h"

namespace cardseal::tool {

Ran verify_package(const VerifyOptions& options);

} // namespace cardseal::tool
