// Raw binary: bytes without addresses. Where they belong is always stated, never guessed.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "base/bytes.h"
#include "diag/error.h"
#include "image/firmware.h"

namespace cardseal::image {

inline constexpr std::uint64_t longest_raw = std::uint64_t{1} << 30; // bytes; 1 GiB

// Errors (bad_data): "raw-past-end" when the bytes don't fit below the last address.
Try<Firmware> read_raw(ByteView bytes, std::uint64_t address, std::string file);

struct RawWriteOptions {
  std::optional<Segment> range;     // else from the first to the last byte of the image
  std::optional<std::uint8_t> fill; // value of absent bytes; without it they are refused
};

// Errors (refused): "image-empty", "image-gap", "image-range" when longer than `longest_raw`.
Try<std::vector<std::uint8_t>> write_raw(const SparseImage& image,
                                         const RawWriteOptions& options = {});

} // namespace cardseal::image
