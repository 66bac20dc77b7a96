// A release package: what is opened has one form, and says the same by three readers.
#include <vector>

#include "claim.h"
#include "format/codec.h"
#include "package/container_file.h"
#include "package/package.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cardseal;
  const Try<package::Package> opened = package::open(io::Bytes(data, data + size), "in");
  if (!opened) {
    fuzz::claim(!opened.error().code.empty() && !opened.error().what.empty(),
                "an error says what is wrong");
    return 0;
  }
  const ByteView bytes(data, size);
  fuzz::claim(package::same_when_written_again(bytes, "in").has_value(),
              "libarchive writes an accepted container to the same bytes");
  const auto image = package::image_of(*opened);
  fuzz::claim(!image || equal(image->image_bytes(), opened->image()),
              "the image's segments are the bytes of its file");
  std::vector<std::uint8_t> out(format::Manifest::limit + 1);
  Outcome outcome;
  const std::size_t length = format::encode(opened->manifest, out, outcome);
  fuzz::claim(outcome.ok() &&
                  equal(ByteView(out).first(length), opened->part(opened->layout.manifest)),
              "the manifest is the one that its values are sealed as");
  return 0;
}
