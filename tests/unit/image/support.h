// Small makers for the image tests.
#pragma once

#include <cstdint>
#include <numeric>
#include <random>
#include <string>
#include <vector>

#include "image/image_builder.h"
#include "image/intel_hex.h"

namespace image_test {

using namespace cardseal;
using namespace cardseal::image;

using Bytes = std::vector<std::uint8_t>;

// Every run draws the same values, so that a failure comes back.
inline std::mt19937 fixed_random(std::uint32_t seed) {
  return std::mt19937(seed); // NOLINT(cert-msc32-c,cert-msc51-cpp)
}

inline const std::string end_record = ":00000001FF\n";

// One record with a right checksum, without a line end.
inline std::string record(unsigned offset, unsigned type, const Bytes& data) {
  Bytes all{static_cast<std::uint8_t>(data.size()), static_cast<std::uint8_t>(offset >> 8),
            static_cast<std::uint8_t>(offset), static_cast<std::uint8_t>(type)};
  all.insert(all.end(), data.begin(), data.end());
  all.push_back(static_cast<std::uint8_t>(0U - std::accumulate(all.begin(), all.end(), 0U)));
  std::string out = ":";
  for (const std::uint8_t byte : all) {
    out += "0123456789ABCDEF"[byte >> 4];
    out += "0123456789ABCDEF"[byte & 15U];
  }
  return out;
}

// The same for S-record: type 1, 5 and 9 take addresses of 2 bytes, and so on.
inline std::string s_record(unsigned type, std::uint32_t address, const Bytes& data) {
  constexpr unsigned widths[] = {2, 2, 3, 4, 2, 2, 3, 4, 3, 2};
  Bytes all{static_cast<std::uint8_t>(widths[type] + data.size() + 1)};
  for (unsigned left = widths[type]; left != 0; --left) {
    all.push_back(static_cast<std::uint8_t>(address >> (8 * (left - 1))));
  }
  all.insert(all.end(), data.begin(), data.end());
  all.push_back(static_cast<std::uint8_t>(~std::accumulate(all.begin(), all.end(), 0U)));
  std::string out = "S" + std::to_string(type);
  for (const std::uint8_t byte : all) {
    out += "0123456789ABCDEF"[byte >> 4];
    out += "0123456789ABCDEF"[byte & 15U];
  }
  return out;
}

inline Try<Firmware> read(const std::string& text, const HexReadOptions& options = {}) {
  return read_intel_hex(bytes_of(text), "in.hex", options);
}

// "id:count:line id:count:line ..." in the order in which the notes came.
inline std::string spell(const Notes& notes) {
  std::string out;
  for (const Note& each : notes.all()) {
    out.append(out.empty() ? "" : " ").append(each.id);
    out.append(":").append(std::to_string(each.count));
    out.append(":").append(std::to_string(each.line));
  }
  return out;
}

// "code line:column found|expected"
inline std::string spell(const Error& error) {
  return error.code + " " + std::to_string(error.place.line) + ":" +
         std::to_string(error.place.column) + " " + error.found + "|" + error.expected;
}

// "accepted", else the error.
inline std::string verdict(const Try<Firmware>& result) {
  return result ? "accepted" : spell(result.error());
}

inline Bytes to_bytes(ByteView view) {
  return {view.begin(), view.end()};
}

struct Part {
  std::uint64_t address;
  Bytes bytes;
};

inline SparseImage make_image(const std::vector<Part>& parts) {
  ImageBuilder builder;
  const std::uint16_t file = builder.add_file("made");
  for (const Part& part : parts) {
    builder.add(part.address, part.bytes, file, 0);
  }
  Notes notes;
  return builder.finish(notes).value();
}

} // namespace image_test
