// What explains the differences between firmware and a board's memory: stated word by word, by the
// device's profile, and by the release that the unit belongs to.
#pragma once

#include "commands.h"
#include "image/read_back.h"

namespace cardseal::tool {

Try<image::ReadBackRules> read_back_rules(const ImageOptions& options);

} // namespace cardseal::tool
