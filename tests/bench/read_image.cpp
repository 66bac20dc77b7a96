// The plain reader alone: file in, image in memory, no digest and no sums.
//   read_image FILE            prints bytes and segments
//   read_image --digest FILE   also the SHA-256 of the bytes
#include <algorithm>
#include <cstdio>
#include <cstring>
#include <string>
#include <vector>

#include "image/intel_hex.h"
#include "image/srecord.h"
#include "io/file.h"

using namespace cardseal;

namespace {

template <class Reader>
Try<image::Firmware> read(Reader reader, const io::ReadFile& file,
                          std::vector<std::uint8_t>& buffer) {
  reader.expect(file.size());
  for (std::uint64_t offset = 0; offset < file.size();) {
    const ByteSpan piece =
        ByteSpan(buffer).first(std::min<std::uint64_t>(buffer.size(), file.size() - offset));
    if (auto got = file.read_at(offset, piece); !got) {
      return Unexpected(std::move(got).error());
    }
    if (auto fed = reader.feed(piece); !fed) {
      return Unexpected(std::move(fed).error());
    }
    offset += piece.size();
  }
  return reader.finish();
}

int failed(const Error& error) {
  std::fprintf(stderr, "%s: %s, line %u\n", error.code.c_str(), error.what.c_str(),
               error.place.line);
  return 65;
}

} // namespace

int main(int argc, char** argv) {
  const bool digest = argc == 3 && std::strcmp(argv[1], "--digest") == 0;
  if (argc != 2 && !digest) {
    return 64;
  }
  const std::string name = argv[argc - 1];
  auto file = io::ReadFile::open(io::real_system(), name);
  if (!file) {
    return failed(file.error());
  }
  std::vector<std::uint8_t> buffer(std::size_t{256} << 10);
  std::uint8_t first = 0;
  (void)file->read_at(0, ByteSpan(&first, 1));
  auto firmware = first == 'S' ? read(image::SRecordReader(name, {}), *file, buffer)
                               : read(image::IntelHexReader(name, {}), *file, buffer);
  if (!firmware) {
    return failed(firmware.error());
  }
  std::printf("%llu bytes in %zu segments\n",
              static_cast<unsigned long long>(firmware->image.size()),
              firmware->image.segments().size());
  if (digest) {
    std::printf("%s\n", crypto::hex(crypto::sha256(firmware->image.image_bytes())).c_str());
  }
  return 0;
}
