#include "firmware.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cardseal;
  fuzz::claim_reader<image::IntelHexReader, image::HexReadOptions>(ByteView(data, size));
  return 0;
}
