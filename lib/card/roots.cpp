#include "card/roots.h"

#include <algorithm>

#include <fmt/format.h>

#include "format/root_chain.h"
#include "package/container_file.h"
#include "package/memory_source.h"

namespace cardseal::card {
namespace {

void add_root(std::vector<package::Entry>& entries, std::uint32_t version,
              const seal::SignedText& root) {
  std::array<char, format::root_entry_name> name{};
  entries.push_back({std::string(format::root_name(version, name)), root.text});
  for (std::size_t i = 0; i < root.signatures.size(); ++i) {
    entries.push_back(
        {std::string(format::root_signature_name(version, i, name)), root.signatures[i]});
  }
}

Unexpected<Error> refused(const Outcome& outcome, const std::string& card) {
  return Unexpected(error_from(outcome, card));
}

ByteView part(ByteView bytes, const format::Extent& extent) {
  return bytes.subspan(extent.offset, extent.size);
}

Try<seal::SignedText> signed_text(ByteView bytes, const format::RootExtents& extents,
                                  const std::string& card) {
  seal::SignedText out;
  const ByteView text = part(bytes, extents.text);
  out.text.assign(text.begin(), text.end());
  for (const format::Extent& each : extents.signatures.view()) {
    crypto::Signature signature{};
    if (each.size != signature.size()) {
      return refused(refuse(Fault::signature_form, each.offset), card);
    }
    const ByteView from = part(bytes, each);
    std::copy(from.begin(), from.end(), signature.begin());
    out.signatures.push_back(signature);
  }
  return out;
}

// Of a version that the desk knows: the same text, or there are two roots of one version.
bool is_known(const seal::OwnerRoot& root, std::uint32_t version, const io::Bytes& text) {
  const seal::SignedText& known =
      version == root.root.version ? root.file : root.before[version - 1];
  return known.text == text;
}

} // namespace

Try<io::Bytes> roots_file(const seal::OwnerRoot& root) {
  std::vector<package::Entry> entries;
  std::uint32_t version = 0;
  for (const seal::SignedText& each : root.before) {
    add_root(entries, ++version, each);
  }
  add_root(entries, ++version, root.file);
  Try<io::Bytes> bytes = package::write_container(entries);
  if (bytes && bytes->size() > format::root_chain_limit) {
    Error error;
    error.kind = ErrorKind::config;
    error.code = "roots-too-long";
    error.what = "a station reads no more roots than this";
    error.found = fmt::format("{} bytes in {} roots", bytes->size(), version);
    error.expected = fmt::format("at most {} bytes", format::root_chain_limit);
    error.hint = "enrol the stations anew under a new owner";
    return Unexpected(std::move(error));
  }
  return bytes;
}

Try<seal::OwnerRoot> follow_roots(const seal::OwnerRoot& root, ByteView roots_file,
                                  const std::string& card) {
  package::MemorySource memory(roots_file);
  const format::Source source = memory.source();
  format::RootChain chain(source);
  format::RootExtents extents;
  seal::OwnerRoot now = root;
  std::uint32_t newest = 0;
  while (chain.next(extents)) {
    newest = extents.version;
    Try<seal::SignedText> text = signed_text(roots_file, extents, card);
    if (!text) {
      return Unexpected(std::move(text).error());
    }
    if (newest > root.root.version) {
      Try<seal::OwnerRoot> next = seal::next_root(now, std::move(*text), card);
      if (!next) {
        return next;
      }
      now = std::move(*next);
    } else if (!is_known(root, newest, text->text)) {
      return refused(refuse(Fault::root_differs, extents.text.offset), card);
    }
  }
  if (!chain.outcome().ok()) {
    return refused(chain.outcome(), card);
  }
  if (newest < root.root.version) {
    return refused(refuse(Fault::root_older), card);
  }
  return now;
}

} // namespace cardseal::card
