// Packages put together from entries, byte by byte, for the tests of the container.
#pragma once

#include <string>
#include <vector>

#include "format/container.h"
#include "support/sealed_examples.h"

namespace cardseal::test {

using Bytes = std::vector<std::uint8_t>;
using Header = std::array<std::uint8_t, format::tar_block>;

struct Entry {
  std::string name;
  Bytes content;
};

inline Bytes bytes_in(const std::string& text) {
  return {text.begin(), text.end()};
}

inline Header header_of(const std::string& name, std::uint32_t size) {
  Header header{};
  format::render_header(name, size, header);
  return header;
}

// One entry as it stands in a package.
inline Bytes framed(const Entry& entry) {
  const auto size = static_cast<std::uint32_t>(entry.content.size());
  Bytes out(format::tar_block + format::padded(size));
  format::render_header(entry.name, size, ByteSpan(out).first<format::tar_block>());
  copy(ByteSpan(out).subspan(format::tar_block, size), entry.content);
  return out;
}

inline Bytes package_of(const std::vector<Entry>& entries) {
  Bytes out;
  for (const Entry& entry : entries) {
    const Bytes bytes = framed(entry);
    out.insert(out.end(), bytes.begin(), bytes.end());
  }
  out.resize(out.size() + 1024);
  return out;
}

inline Bytes example_image() {
  Bytes image(4097);
  image.back() = 1;
  return image;
}

// The package that the examples of SPEC.md make together.
inline std::vector<Entry> example_entries() {
  return {{"manifest", bytes_in(example_of<format::Manifest>())},
          {"signoff/01", bytes_in(example_of<format::Signoff>())},
          {"signoff/01.sig", spec().hex_example("example-signature")},
          {"chain", spec().hex_example("example-chain")},
          {"image", example_image()},
          {"facts", bytes_in(example_of<format::Facts>())},
          {"doc/NOTES.txt", bytes_in(spec().example("text", "example-document"))}};
}

inline Outcome read_bytes(void* context, std::uint32_t offset, ByteSpan out) {
  const auto& bytes = *static_cast<const Bytes*>(context);
  REQUIRE(offset + out.size() <= bytes.size());
  copy(out, ByteView(bytes).subspan(offset, out.size()));
  return done;
}

inline Outcome layout_of(Bytes bytes, format::PackageLayout& layout) {
  const format::Source source{&bytes, read_bytes, static_cast<std::uint32_t>(bytes.size())};
  return format::read_layout(source, layout);
}

inline Outcome outcome_of(const Bytes& bytes) {
  format::PackageLayout layout;
  return layout_of(bytes, layout);
}

} // namespace cardseal::test
