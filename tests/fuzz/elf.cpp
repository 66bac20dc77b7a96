#include "image/elf.h"
#include "firmware.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cardseal;
  const std::vector<std::uint8_t> aligned(data, data + size);
  using Mode = std::optional<image::ElfMode>;
  for (const Mode mode : {Mode(), Mode(image::ElfMode::sections), Mode(image::ElfMode::segments)}) {
    for (std::uint32_t unit = 1; unit <= 8; ++unit) {
      image::ElfReadOptions options;
      options.mode = mode;
      options.address_unit = unit;
      const Try<image::Firmware> result = image::read_elf(aligned, "in", options);
      fuzz::claim_all(result);
      fuzz::claim(fuzz::verdict(image::read_elf(aligned, "in", options)) == fuzz::verdict(result),
                  "one file has one verdict");
    }
  }
  return 0;
}
