// Firmware from a file: read once, in pieces; the bytes that are hashed are the bytes that are read
// as firmware.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "base/bytes.h"
#include "crypto/sha256.h"
#include "diag/error.h"
#include "image/detect.h"
#include "image/elf.h"
#include "image/firmware.h"
#include "image/intel_hex.h"
#include "image/srecord.h"
#include "io/system.h"

namespace cardseal::image {

inline constexpr std::uint64_t longest_firmware_file = std::uint64_t{1} << 30; // bytes; 1 GiB

struct LoadOptions {
  std::optional<Format> format;             // else by content
  HexReadOptions hex;                       // for S-record too
  std::optional<ElfMode> elf_mode;          // for ELF only; see image/elf.h
  std::optional<std::uint32_t> elf_unit;    // the same
  std::optional<std::uint64_t> raw_address; // of the first byte; needed for raw, for nothing else
};

struct Loaded {
  Firmware firmware;
  Format format = Format::intel_hex;
  std::string file;
  std::uint64_t file_size = 0;  // bytes
  crypto::Digest file_digest{}; // SHA-256 of the file as it stands
};

// "-" is standard input. Errors: those of io and of the reader; bad_data "firmware-empty" and
// "firmware-format" (looks like none); usage "raw-address" (missing, or given for another format)
// and "elf-option" (given for another format).
Try<Loaded> load_firmware(io::System& system, const io::Path& path,
                          const LoadOptions& options = {});

// The same for a file that is already in memory.
Try<Loaded> load_firmware(ByteView bytes, const std::string& file, const LoadOptions& options = {});

} // namespace cardseal::image
