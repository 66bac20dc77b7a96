#include "firmware.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cardseal;
  fuzz::claim_reader<image::SRecordReader, image::SRecordReadOptions>(ByteView(data, size));
  return 0;
}
