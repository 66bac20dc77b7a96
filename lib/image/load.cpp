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
    Error error = problem(ErrorKind::bad_data, "firmware-empty", "file is empty", file,
                          "get the file again from whoever built it");
    error.place.line = 1;
    error.place.column = 1;
    error.found = "0 bytes";
    error.expected = "firmware";
    return Unexpected(std::move(error));
  }
  if (!format) {
    Error error =
        problem(ErrorKind::bad_data, "firmware-format", "file is no known firmware format", file,
                "state the format; raw binary is never assumed");
    error.found = "first byte " + spell_byte(start[0]);
    error.expected = "ELF, or a line that is a record of Intel HEX (':') or S-record ('S')";
    return Unexpected(std::move(error));
  }
  if ((*format == Format::raw) != options.raw_address.has_value()) {
    const bool missing = *format == Format::raw;
    return Unexpected(problem(ErrorKind::usage, "raw-address",
                              missing ? "raw binary needs the address of its first byte"
                                      : "the format has addresses of its own",
                              file, missing ? "state the address" : "leave the address out"));
  }
  if (*format != Format::elf && (options.elf_mode || options.elf_unit)) {
    return Unexpected(problem(ErrorKind::usage, "elf-option",
                              "only ELF has sections, segments and address units", file,
                              "leave those options out"));
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

SRecordReadOptions srecord_options(const LoadOptions& options) {
  return {options.hex.allow_missing_end, options.hex.allow_comments};
}

Try<Firmware> read(Format format, ByteView bytes, const std::string& file,
                   const LoadOptions& options) {
  switch (format) {
  case Format::raw:
    return read_raw(bytes, *options.raw_address, file);
  case Format::elf:
    return read_elf(bytes, file, {options.elf_mode, options.elf_unit.value_or(1)});
  case Format::s_record:
    return read_srecord(bytes, file, srecord_options(options));
  case Format::intel_hex:
    break;
  }
  return read_intel_hex(bytes, file, options.hex);
}

// Piece by piece, so that memory follows the image; a HEX file is almost three times as long.
template <class Reader>
Try<Loaded> stream(Reader reader, const io::ReadFile& file, std::vector<std::uint8_t> buffer,
                   Loaded out) {
  reader.expect(out.file_size);
  crypto::Sha256 hash;
  ByteView piece = buffer;
  std::uint64_t offset = 0;
  while (true) {
    hash.update(piece);
    if (auto fed = reader.feed(piece); !fed) {
      return Unexpected(std::move(fed).error());
    }
    offset += piece.size();
    if (offset == out.file_size) {
      break;
    }
    const ByteSpan next =
        ByteSpan(buffer).first(std::min<std::uint64_t>(buffer.size(), out.file_size - offset));
    if (auto got = file.read_at(offset, next); !got) {
      return Unexpected(std::move(got).error());
    }
    piece = next;
  }
  out.file_digest = hash.finish();
  return with(std::move(out), reader.finish());
}

// ELF's headers stand anywhere in the file, and what is no text becomes the image whole.
Try<Loaded> load_whole(const io::ReadFile& file, std::vector<std::uint8_t> start, Loaded out,
                       const LoadOptions& options) {
  const std::size_t had = start.size();
  start.resize(out.file_size);
  if (auto got = file.read_at(had, ByteSpan(start).subspan(had)); !got) {
    return Unexpected(std::move(got).error());
  }
  out.file_digest = crypto::sha256(start);
  auto firmware = read(out.format, start, out.file, options);
  return with(std::move(out), std::move(firmware));
}

Try<Loaded> load_file(const io::ReadFile& file, const LoadOptions& options) {
  Loaded out{{}, Format::intel_hex, file.path().string(), file.size(), {}};
  std::vector<std::uint8_t> start(std::min<std::uint64_t>(chunk_bytes, out.file_size));
  if (auto got = file.read_at(0, start); !got) {
    return Unexpected(std::move(got).error());
  }
  auto format = choose_format(start, out.file, options);
  if (!format) {
    return Unexpected(std::move(format).error());
  }
  out.format = *format;
  const std::string name = out.file;
  if (*format == Format::intel_hex) {
    return stream(IntelHexReader(name, options.hex), file, std::move(start), std::move(out));
  }
  if (*format == Format::s_record) {
    return stream(SRecordReader(name, srecord_options(options)), file, std::move(start),
                  std::move(out));
  }
  return load_whole(file, std::move(start), std::move(out), options);
}

} // namespace

Try<Loaded> load_firmware(ByteView bytes, const std::string& file, const LoadOptions& options) {
  auto format = choose_format(bytes, file, options);
  if (!format) {
    return Unexpected(std::move(format).error());
  }
  Loaded out{{}, *format, file, bytes.size(), crypto::sha256(bytes)};
  return with(std::move(out), read(*format, bytes, file, options));
}

Try<Loaded> load_firmware(io::System& system, const io::Path& path, const LoadOptions& options) {
  // Standard input and pipes have no size to go by.
  const io::Sys<io::Stat> status = system.stat(path);
  if (!status || !status->regular) {
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
  return load_file(*file, options);
}

} // namespace cardseal::image
