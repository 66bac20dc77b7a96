#include "format/container.h"

#include "format/container_walk.h"
#include "format/signoff.h"

namespace cardseal::format {
namespace {

// Field offsets and sizes of the POSIX ustar header; the spelling of its numbers is libarchive's.
struct HeaderField {
  std::size_t offset;
  std::string_view text;
};
constexpr std::string_view mode_text{"000644 \0", 8};
constexpr std::string_view zero_text{"000000 \0", 8};
constexpr std::string_view magic_text{"ustar\0"
                                      "00",
                                      8};
constexpr HeaderField fixed_fields[] = {
    {100, mode_text}, {108, zero_text},  {116, zero_text}, {136, "00000000000 "}, {148, "        "},
    {156, "0"},       {257, magic_text}, {329, zero_text}, {337, zero_text},
};
constexpr std::size_t checksum_offset = 148;

void put_octal(std::uint32_t value, std::size_t digits, std::uint8_t* at) {
  for (std::size_t i = digits; i-- > 0; value >>= 3) {
    at[i] = static_cast<std::uint8_t>('0' + (value & 7U));
  }
}

void take_signoffs(Walk& walk, PackageLayout& out) {
  std::array<char, 16> spelled{};
  while (walk.ok() && slice(walk.name(), 0, 8) == "signoff/") {
    const std::size_t index = out.signoffs.count;
    if (index == max_signoffs) {
      return walk.fail(Fault::container_signoffs);
    }
    SignoffExtents signoff;
    if (walk.name() != signoff_name(index, false, spelled)) {
      return walk.fail(Fault::container_entry);
    }
    signoff.text = walk.take(Signoff::limit);
    if (!walk.next() || walk.name() != signoff_name(index, true, spelled)) {
      return walk.fail(Fault::container_entry);
    }
    signoff.signature = walk.take(64);
    out.signoffs.add(signoff);
    if (!walk.next()) {
      return walk.fail(Fault::container_entry);
    }
  }
}

void take_documents(Walk& walk, PackageLayout& out) {
  Name before;
  while (walk.next()) {
    const std::string_view name = slice(walk.name(), 4);
    const bool sorted = out.documents.count == 0 || before.view() < name;
    if (slice(walk.name(), 0, 4) != "doc/" || !is_document_name(name) || !sorted ||
        out.documents.count == max_documents) {
      return walk.fail(Fault::container_entry);
    }
    before.set(name);
    out.documents.add(walk.take(0x7FFF'FFFF));
  }
}

Extent take_named(Walk& walk, std::string_view name, std::uint32_t limit) {
  if (walk.ok() && walk.name() != name) {
    walk.fail(Fault::container_entry);
  }
  return walk.take(limit);
}

} // namespace

Outcome is_document(const Source& source, const Extent& document, const Name& name, bool& same) {
  constexpr std::size_t longest = 4 + sizeof(Name::bytes);
  std::array<std::uint8_t, longest + 1> found{};
  std::array<std::uint8_t, longest + 1> expected{}; // zeros behind: the name ends
  copy(ByteSpan(expected).first(4), bytes_of("doc/"));
  copy(ByteSpan(expected).subspan(4, name.size), bytes_of(name.view()));
  const Outcome outcome =
      source.read(source.context, document.offset - std::uint32_t{tar_block}, found);
  same = equal(found, expected);
  return outcome;
}

void render_header(std::string_view name, std::uint32_t size,
                   std::span<std::uint8_t, tar_block> out) {
  fill(out, 0);
  copy(out.first(entry_name_size), bytes_of(name));
  for (const HeaderField& field : fixed_fields) {
    copy(out.subspan(field.offset, field.text.size()), bytes_of(field.text));
  }
  put_octal(size, size_field.digits, &out[size_field.offset]);
  out[size_field.offset + size_field.digits] = ' ';
  std::uint32_t sum = 0;
  for (const std::uint8_t byte : out) {
    sum += byte;
  }
  put_octal(sum, 6, &out[checksum_offset]);
  out[checksum_offset + 6] = 0;
}

std::string_view signoff_name(std::size_t index, bool signature, std::span<char> out) {
  constexpr std::string_view pattern = "signoff/00.sig";
  for (std::size_t i = 0; i < pattern.size(); ++i) {
    out[i] = pattern[i];
  }
  out[8] = static_cast<char>('0' + (index + 1) / 10);
  out[9] = static_cast<char>('0' + (index + 1) % 10);
  return {out.data(), signature ? pattern.size() : 10};
}

bool is_document_name(std::string_view name) {
  if (name.empty() || name.size() > 24) {
    return false;
  }
  for (std::size_t i = 0; i < name.size(); ++i) {
    const char c = name[i];
    const bool letter = (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
    if (!letter && (i == 0 || (c != '.' && c != '_' && c != '-'))) {
      return false;
    }
  }
  return true;
}

Outcome read_layout(const Source& source, PackageLayout& out) {
  out = {};
  Walk walk(source);
  if (!walk.next()) {
    walk.fail(Fault::container_entry);
  }
  out.manifest = take_named(walk, "manifest", 8192);
  if (!walk.next()) {
    walk.fail(Fault::container_entry);
  }
  take_signoffs(walk, out);
  out.chain = take_named(walk, "chain", 0x7FFF'FFFF);
  walk.next();
  out.image = take_named(walk, "image", 0x7FFF'FFFF);
  walk.next();
  out.facts = take_named(walk, "facts", max_facts);
  take_documents(walk, out);
  walk.finish();
  return walk.outcome();
}

} // namespace cardseal::format
