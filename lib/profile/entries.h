// The element <entries> of device and station profiles: ways to get into a device. Inside this
// module.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "profile/source.h"
#include "xml/element.h"

namespace cardseal::profile {

// 1 to 8 ids of at most 16 bytes, none twice.
void read_entries(const xml::Element& element, std::vector<std::string>& entries,
                  std::optional<Source>& source);

} // namespace cardseal::profile
