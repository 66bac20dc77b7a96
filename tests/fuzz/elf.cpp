#include "image/elf.h"
#include "firmware.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cardseal;
  const std::vector<std::uint8_t> aligned(data, data + size);
  for (const auto mode : {image::ElfMode::sections, image::ElfMode::segments}) {
    for (const std::uint32_t unit : {1U, 2U}) {
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
