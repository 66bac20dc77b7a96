#include "image/raw.h"
#include "firmware.h"

// The first eight bytes are the address.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cardseal;
  if (size < 8) {
    return 0;
  }
  const std::uint64_t address = load_be64(data);
  const ByteView bytes(data + 8, size - 8);
  const Try<image::Firmware> result = image::read_raw(bytes, address, "in");
  const bool fits = bytes.size() <= ~std::uint64_t{0} - address;
  fuzz::claim(result.has_value() == fits, "bytes that fit below the last address are accepted");
  fuzz::claim_all(result);
  if (result && !bytes.empty()) {
    const auto written = image::write_raw(result->image);
    fuzz::claim(written.has_value() && equal(*written, bytes),
                "raw bytes written again are the same bytes");
  }
  return 0;
}
