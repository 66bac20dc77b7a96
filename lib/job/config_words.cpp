#include "job/config_words.h"

namespace cardseal::job {

std::vector<ConfigState> config_states(const ReleaseFile& release, const Inputs& in) {
  std::vector<ConfigState> states;
  if (!in.device.configuration) {
    return states;
  }
  const bool delivered = release.device.configuration == format::Configuration::as_delivered;
  for (const profile::ConfigWord& word : in.device.configuration->words) {
    ConfigState state;
    state.word = &word;
    std::uint32_t value = 0;
    for (std::uint32_t i = 0; i < word.length; ++i) {
      if (const auto byte = in.firmware.firmware.image.at(std::uint64_t{word.address} + i)) {
        value |= std::uint32_t{*byte} << (8 * i);
        ++state.bytes_in_firmware;
      }
    }
    if (state.bytes_in_firmware == word.length) {
      state.value = value;
    } else if (delivered && state.bytes_in_firmware == 0) {
      state.value = word.delivered;
    }
    states.push_back(state);
  }
  return states;
}

std::vector<image::MaskedWords> summed_memory(const profile::Device& device) {
  std::vector<image::MaskedWords> memory;
  const bool by_byte = device.sum->by_byte;
  const profile::Region* code = device.find_region(device.sum->region);
  memory.push_back({{{code->address, code->size}, code->erased, code->word_bytes()},
                    code->word_mask(),
                    by_byte});
  if (device.configuration) {
    for (const profile::ConfigWord& word : device.configuration->words) {
      const profile::Region* region = device.find_region(word.region);
      std::uint32_t blank = 0;
      for (std::uint32_t i = 0; i < word.length; ++i) {
        blank |= std::uint32_t{region->erased_byte(std::uint64_t{word.address} + i)} << (8 * i);
      }
      memory.push_back({{{word.address, word.length}, blank, word.length}, word.mask, by_byte});
    }
  }
  return memory;
}

} // namespace cardseal::job
