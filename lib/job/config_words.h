// Configuration words as a unit will hold them, and the sums that count them. Inside this module.
#pragma once

#include <optional>
#include <vector>

#include "image/device_sum.h"
#include "job/inputs.h"

namespace cardseal::job {

struct ConfigState {
  const profile::ConfigWord* word = nullptr;
  std::uint32_t bytes_in_firmware = 0;
  std::optional<std::uint32_t> value; // none: not known whole
};

// One for each word of the device's profile, in its order.
std::vector<ConfigState> config_states(const ReleaseFile& release, const Inputs& in);

// The memory that the device's own sum goes over: its region, then its configuration words, masked.
std::vector<image::MaskedWords> summed_memory(const profile::Device& device);

} // namespace cardseal::job
