#include "image/load.h"

#include <algorithm>
#include <vector>

#include "image/raw.h"
#include "image/spell.h"
#include "io/file.h"

namespace cardseal::image {
namespace {

constexpr std::size_t chunk_bytes = std::size_t{1} << 20;

Error problem(ErrorKind kind, const char* code, const char* what, const std::string& file,
              std::string hint) {
  Error error;
  error.kind = kind;
  error.code = code;
  error.what = what;
  error.place.file = file;
  error.hint = std::move(hint);
  return error;
}

Try<Format> choose_format(ByteView start, const std::string& file, const LoadOptions& options) {
  const std::optional<Format> format = options.format ? options.format : detect(start);
  if (start.empty()) {
    return Unexpected(problem(ErrorKind::bad_data, "firmware-empty", "file is empty", file,
                              "get the file again from whoever built it"));
  }
  if (!format) {
    Error error =
        problem(ErrorKind::bad_data, "firmware-format", "file is no known firmware format", file,
                "state the format; raw binary is never assumed");
    error.found = "first byte " + spell_byte(start[0]);
    error.expected = "a line that starts with ':' and hex digits";
    return Unexpected(std::move(error));
  }
  if ((*format == Format::raw) != options.raw_address.has_value()) {
    const bool missing = *format == Format::raw;
    return Unexpected(problem(ErrorKind::usage, "raw-address",
                              missing ? "raw binary needs the address of its first byte"
                                      : "the format has addresses of its own",
                              file, missing ? "state the address" : "leave the address out"));
  }
  return *format;
}

Try<Loaded> with(Loaded loaded, Try<Firmware> firmware) {
  if (!firmware) {
    return Unexpected(std::move(firmware).error());
  }
  loaded.firmware = std::move(firmware).value();
  return loaded;
}

Error too_large(const io::Path& path, std::uint64_t size) {
  Error error = problem(ErrorKind::bad_data, "file-too-large", "file is too large", path.string(),
                        "check that this is the right file");
  error.found = spell_count(size, "byte");
  error.expected = "at most " + std::to_string(longest_firmware_file);
  return error;
}

// Piece by piece, so that memory follows the image; a HEX file is almost three times as long.
Try<Loaded> stream_hex(const io::ReadFile& file, const LoadOptions& options) {
  Loaded out{{}, Format::intel_hex, file.path().string(), file.size(), {}};
  IntelHexReader reader(out.file, options.hex);
  reader.expect(out.file_size);
  crypto::Sha256 hash;
  std::vector<std::uint8_t> buffer(std::min<std::uint64_t>(chunk_bytes, out.file_size));
  std::uint64_t offset = 0;
  do {
    const ByteSpan piece =
        ByteSpan(buffer).first(std::min<std::uint64_t>(buffer.size(), out.file_size - offset));
    if (auto got = file.read_at(offset, piece); !got) {
      return Unexpected(std::move(got).error());
    }
    if (offset == 0) {
      if (auto format = choose_format(piece, out.file, options); !format) {
        return Unexpected(std::move(format).error());
      }
    }
    hash.update(piece);
    if (auto fed = reader.feed(piece); !fed) {
      return Unexpected(std::move(fed).error());
    }
    offset += piece.size();
  } while (offset < out.file_size);
  out.file_digest = hash.finish();
  return with(std::move(out), reader.finish());
}

} // namespace

Try<Loaded> load_firmware(ByteView bytes, const std::string& file, const LoadOptions& options) {
  auto format = choose_format(bytes, file, options);
  if (!format) {
    return Unexpected(std::move(format).error());
  }
  Loaded out{{}, *format, file, bytes.size(), crypto::sha256(bytes)};
  return with(std::move(out), *format == Format::raw ? read_raw(bytes, *options.raw_address, file)
                                                     : read_intel_hex(bytes, file, options.hex));
}

Try<Loaded> load_firmware(io::System& system, const io::Path& path, const LoadOptions& options) {
  // Standard input and pipes have no size to go by; raw binary becomes the image whole anyway.
  const io::Sys<io::Stat> status = system.stat(path);
  if (!status || !status->regular || options.format == Format::raw) {
    auto bytes = io::read_file(system, path, longest_firmware_file);
    if (!bytes) {
      return Unexpected(std::move(bytes).error());
    }
    return load_firmware(*bytes, path == "-" ? "standard input" : path.string(), options);
  }
  auto file = io::ReadFile::open(system, path);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  if (file->size() > longest_firmware_file) {
    return Unexpected(too_large(path, file->size()));
  }
  return stream_hex(*file, options);
}

} // namespace cardseal::image
