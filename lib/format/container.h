// The release package as a file: a strict `ustar` (POSIX.1-1988 header) in exactly one byte form.
// Entries, in this order: manifest, signoff/NN with signoff/NN.sig, chain, image, facts, doc/NAME.
// Layout and a worked example: lib/format/SPEC.md.
#pragma once

#include "format/fields.h"
#include "format/source.h"

namespace cardseal::format {

inline constexpr std::size_t tar_block = 512; // bytes
inline constexpr std::size_t chain_block = 4096;
inline constexpr std::size_t max_signoffs = 8;
inline constexpr std::size_t max_documents = 8;
inline constexpr std::size_t entry_name_size = 99;

// The one header for an entry of this name (at most 99 bytes) and size.
void render_header(std::string_view name, std::uint32_t size,
                   std::span<std::uint8_t, tar_block> out);

struct Extent { // bytes of the package
  std::uint32_t offset = 0;
  std::uint32_t size = 0;
};

struct SignoffExtents {
  Extent text;
  Extent signature;
};

struct PackageLayout {
  Extent manifest;
  List<SignoffExtents, max_signoffs> signoffs;
  Extent chain;
  Extent image;
  Extent facts;
  List<Extent, max_documents> documents; // their names stand in the headers: is_document
};

// Every byte outside the entries' contents is compared with the one form; on success the contents
// are where `out` says and nothing else is in the package.
Outcome read_layout(const Source& source, PackageLayout& out);

// Whether the header before these contents names this document; what read_layout found them to be.
Outcome is_document(const Source& source, const Extent& document, const Name& name, bool& same);

// "signoff/01" for 0 and so on; `out` holds at least 14 characters. With ".sig" when `signature`.
std::string_view signoff_name(std::size_t index, bool signature, std::span<char> out);

// A document's name: 1 to 24 of A-Z a-z 0-9 . _ -, the first a letter or digit.
bool is_document_name(std::string_view name);

constexpr std::uint32_t padded(std::uint32_t size) {
  return (size + 511U) & ~511U;
}

// Blocks of the image, the last one short: 1 to 4096 bytes.
constexpr std::uint32_t block_count(std::uint32_t image_size) {
  return static_cast<std::uint32_t>((std::uint64_t{image_size} + chain_block - 1) / chain_block);
}

} // namespace cardseal::format
