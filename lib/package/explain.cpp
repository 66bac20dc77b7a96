#include "package/explain.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "seal/withdrawal.h"

namespace cardseal::package {
namespace {

std::string words_of(const Utc& time) {
  char out[utc_length];
  return {out, spell_utc(time, out)};
}

// Persons whose root keys made the signatures, under either of two roots.
std::vector<std::string> root_signers(const seal::SignedText& file, std::string_view kind,
                                      const format::Root& root, const format::Root* before) {
  std::vector<std::string> out;
  const io::Bytes bytes = seal::signed_bytes(kind, file.text);
  for (const crypto::Signature& signature : file.signatures) {
    const auto add = [&](const format::Root& of, const char* which) {
      for (const format::RootKey& key : of.keys.view()) {
        if (crypto::verify(key.key, bytes, signature)) {
          out.push_back(
              fmt::format("{} in {}, key {}", key.person.view(), which, crypto::hex(key.key)));
        }
      }
    };
    if (before != nullptr) {
      add(*before, "the root before");
    }
    add(root, "this root");
  }
  return out;
}

void tell_roots(const seal::OwnerRoot& root, std::vector<Reason>& out) {
  format::Root before;
  for (std::uint32_t version = 1; version <= root.root.version; ++version) {
    const bool last = version == root.root.version;
    const seal::SignedText& file = last ? root.file : root.before[version - 1];
    format::Root now = root.root;
    if (!last && !format::decode(file.text, now).ok()) {
      return; // read_root has read it
    }
    const std::string digest = crypto::spell_digest(crypto::sha256(file.text));
    out.push_back(
        {"root",
         version == 1
             ? fmt::format("version 1, {} of its persons: believed because people compared "
                           "this digest when stations were enrolled",
                           now.threshold)
             : fmt::format("version {}, {} of its persons and {} of the root's before it", version,
                           now.threshold, before.threshold),
         digest, root_signers(file, format::Root::kind, now, version == 1 ? nullptr : &before)});
    before = now;
  }
}

void tell_trust(const seal::OwnerRoot& root, const seal::OwnerTrust& trust,
                std::vector<Reason>& out) {
  out.push_back(
      {"trust-list",
       fmt::format("sequence {}, under root version {}, claimed time {}", trust.list.sequence,
                   trust.list.root_version, words_of(trust.list.time)),
       crypto::spell_digest(trust.digest),
       root_signers(trust.file, format::TrustList::kind, root.root, nullptr)});
  for (const seal::OwnerWithdrawal& each : trust.withdrawals) {
    out.push_back({"withdrawal",
                   seal::stopped_words(each.withdrawal),
                   crypto::spell_digest(crypto::sha256(each.file.text)),
                   {std::string(each.withdrawal.person.view())}});
  }
}

void tell_signoffs(const Package& package, const seal::OwnerTrust& trust,
                   std::vector<Reason>& out) {
  for (const SignoffEntry& entry : package.signoffs) {
    const format::Signoff& s = entry.signoff;
    std::string scope = "every product";
    for (const format::TrustedKey& key : trust.list.keys.view()) {
      if (key.key == s.key && key.product.present) {
        scope = fmt::format("product {}", key.product.value.view());
      }
    }
    out.push_back({"sign-off",
                   fmt::format("{}: {}, claimed time {}", word_of(s.role),
                               escaped(s.meaning.view()), words_of(s.time)),
                   crypto::spell_digest(entry.digest),
                   {fmt::format("{} in role {} for {}, key {}, active on that list",
                                s.person.view(), word_of(s.role), scope, crypto::hex(s.key))}});
  }
}

void tell_contents(const Package& package, std::vector<Reason>& out) {
  const format::Manifest& m = package.manifest;
  out.push_back({"manifest",
                 fmt::format("{} {}, epoch {}, sequence {}: every setting that a station acts on",
                             m.product.view(), m.release.view(), m.epoch, m.sequence),
                 crypto::spell_digest(package.manifest_digest),
                 {fmt::format("its digest in each of {} sign-offs", package.signoffs.size())}});
  const std::uint32_t blocks = format::block_count(m.image_size);
  out.push_back({"chain",
                 fmt::format("{} blocks, each hashed with the digest of the next", blocks),
                 crypto::spell_digest(m.chain_head),
                 {"chain-head in the manifest"}});
  std::uint64_t at = 0;
  for (const format::Segment& segment : m.segments.view()) {
    const std::uint64_t last = at + segment.length - 1;
    out.push_back({"bytes",
                   fmt::format("addresses 0x{:08X} to 0x{:08X} are bytes {} to {} of the image, in "
                               "blocks {} to {}",
                               segment.address, segment.address + (segment.length - 1), at, last,
                               at / format::chain_block, last / format::chain_block),
                   "",
                   {"segment in the manifest; each block is proved by the chain"}});
    at += segment.length;
  }
  out.push_back({"image",
                 fmt::format("{} bytes, hashed whole at the desk", m.image_size),
                 crypto::spell_digest(m.image_digest),
                 {"image in the manifest"}});
  out.push_back({"facts",
                 "what people decided by; no station reads it",
                 crypto::spell_digest(m.facts_digest),
                 {"facts in the manifest"}});
}

} // namespace

std::vector<Reason> reasons(const Package& package, const seal::OwnerRoot& root,
                            const seal::OwnerTrust& trust, const Judgement& judged) {
  std::vector<Reason> out;
  tell_roots(root, out);
  tell_trust(root, trust, out);
  if (judged.outcome.ok()) {
    tell_signoffs(package, trust, out);
    tell_contents(package, out);
  }
  return out;
}

} // namespace cardseal::package
