#include "format/root_chain.h"

namespace cardseal::format {

std::string_view root_name(std::uint32_t version, std::span<char, root_entry_name> out) {
  constexpr std::string_view pattern = "root/000000";
  for (std::size_t i = 0; i < pattern.size(); ++i) {
    out[i] = pattern[i];
  }
  for (std::size_t i = pattern.size(); version != 0 && i-- > 5; version /= 10) {
    out[i] = static_cast<char>('0' + version % 10);
  }
  return {out.data(), pattern.size()};
}

std::string_view root_signature_name(std::uint32_t version, std::size_t index,
                                     std::span<char, root_entry_name> out) {
  const std::size_t at = root_name(version, out).size();
  const std::array<char, 4> end{'.', 's', static_cast<char>('0' + (index + 1) / 10),
                                static_cast<char>('0' + (index + 1) % 10)};
  for (std::size_t i = 0; i < end.size(); ++i) {
    out[at + i] = end[i];
  }
  return {out.data(), at + end.size()};
}

RootChain::RootChain(const Source& source) : walk_(source) {
  if (source.size > root_chain_limit) {
    walk_.fail(Fault::container_size);
  }
  more_ = walk_.next();
  if (!more_) {
    walk_.fail(Fault::container_entry); // at least the first root
  }
}

bool RootChain::next(RootExtents& out) {
  if (!more_ || !walk_.ok()) {
    return false;
  }
  std::array<char, root_entry_name> name{};
  out = {};
  out.version = ++version_;
  if (walk_.name() != root_name(version_, name)) {
    walk_.fail(Fault::container_entry);
  }
  out.text = walk_.take(Root::limit);
  more_ = walk_.next();
  while (more_ && out.signatures.count < max_root_signatures &&
         walk_.name() == root_signature_name(version_, out.signatures.count, name)) {
    out.signatures.add(walk_.take(64));
    more_ = walk_.next();
  }
  if (!more_) {
    walk_.finish();
  }
  return walk_.ok();
}

} // namespace cardseal::format
