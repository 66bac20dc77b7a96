// The parts of a device profile that stand between its regions and its supply. Inside this module.
#pragma once

#include "profile/device.h"

namespace cardseal::profile {

inline constexpr std::uint32_t max_u32 = 0xFFFFFFFF;

ResetVector read_reset(const xml::Element& element, const Device& device);
void read_kept(const xml::Element& element, Device& device);
DeviceId read_device_id(const xml::Element& element, const Device& device);
DeviceSum read_device_sum(const xml::Element& element, const Device& device);
void read_locks(const xml::Element& element, Device& device);
DeviceTimes read_times(const xml::Element& element, const Device& device);

} // namespace cardseal::profile
