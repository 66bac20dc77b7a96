#include "trust/package_rules.h"

#include "format/codec.h"
#include "trust/checks.h"
#include "trust/manifest_rules.h"

namespace cardseal::trust {
namespace {

using format::Role;

// Reads a small entry whole; `text` becomes the part of `buffer` that holds it.
Outcome read_extent(const format::Source& source, const format::Extent& extent, ByteSpan buffer,
                    ByteSpan& text) {
  if (extent.size > buffer.size()) {
    return refuse(Fault::container_size, extent.offset);
  }
  text = buffer.first(extent.size);
  return source.read(source.context, extent.offset, text);
}

Outcome judge_signer(const format::Signoff& signoff, const format::TrustedKey& signer,
                     std::uint16_t item) {
  const bool may_sign = signer.role == Role::release || signer.role == Role::quality ||
                        signer.role == Role::engineering;
  const bool scoped = !signer.product.present || signer.product.value == signoff.product;
  return Checks(item)
      .need(signer.state == format::KeyState::active, Fault::signoff_revoked)
      .need(may_sign && signoff.role == signer.role, Fault::signoff_role)
      .need(signoff.person == signer.person, Fault::signoff_person)
      .need(signoff.key == signer.key, Fault::signoff_key)
      .need(scoped, Fault::signoff_key_product)
      .outcome();
}

struct CountedSignoff { // what stays of a sign-off after it was judged, until the package is
  Role role = Role::release;
  std::uint8_t person = 0; // by the list's first key that is theirs
  format::Digest text_digest{};
};
using Counted = format::List<CountedSignoff, format::max_signoffs>;

std::uint8_t number_of(const format::TrustList& list, const format::Id& person) {
  static_assert(decltype(format::TrustList::keys)::capacity() < 256);
  std::uint8_t at = 0;
  while (at < list.keys.count && list.keys.items[at].person != person) {
    ++at;
  }
  return at;
}

// A sign-off follows the one before it: its digest, and a role not earlier in the order.
Outcome judge_place(const format::Signoff& signoff, const Counted& counted, std::uint16_t item) {
  const std::uint16_t before = counted.count;
  const CountedSignoff* last = before == 0 ? nullptr : &counted.items[before - 1U];
  const bool chained =
      last == nullptr ? !signoff.previous.present
                      : signoff.previous.present && signoff.previous.value == last->text_digest;
  const bool mixed =
      last != nullptr && (last->role == Role::engineering) != (signoff.role == Role::engineering);
  const bool ordered = last == nullptr || last->role == signoff.role ||
                       (last->role == Role::release && signoff.role == Role::quality);
  return Checks(item)
      .need(ordered && !mixed, Fault::signoff_order)
      .need(chained, Fault::signoff_previous)
      .outcome();
}

void narrow(const format::Signoff& signoff, PackageVerdict& verdict) {
  if (signoff.role == Role::release) {
    return;
  }
  if (signoff.units_a_station.present) {
    const std::uint32_t most = signoff.units_a_station.value;
    const bool lower = !verdict.units_a_station.present || most < verdict.units_a_station.value;
    verdict.units_a_station.set(lower ? most : verdict.units_a_station.value);
  }
  if (signoff.numbers.present) {
    format::OrdinalRange range = signoff.numbers.value;
    if (verdict.numbers.present) {
      const format::OrdinalRange& kept = verdict.numbers.value;
      range.first = kept.first > range.first ? kept.first : range.first;
      range.last = kept.last < range.last ? kept.last : range.last;
    }
    verdict.numbers.set(range);
  }
  verdict.plain_file = verdict.plain_file && format::is_yes(signoff.plain_file);
}

// Read, verify, and only then parse and judge one sign-off.
Outcome judge_signoff(const CryptoTable& crypto, const RootView& root,
                      const format::TrustList& list, const format::Source& source,
                      std::uint16_t item, ByteSpan buffer, PackageVerdict& verdict,
                      Counted& counted) {
  const format::SignoffExtents& extents = verdict.layout.signoffs.items[item];
  ByteSpan text;
  std::array<std::uint8_t, signature_size> signature{};
  Outcome outcome = read_extent(source, extents.text, buffer, text);
  if (outcome.ok()) {
    outcome = extents.signature.size == signature_size
                  ? source.read(source.context, extents.signature.offset, signature)
                  : refuse(Fault::signature_form);
  }
  const format::TrustedKey* signer = nullptr;
  if (outcome.ok()) {
    outcome = find_signer(crypto, list, {format::Signoff::kind, text, signature}, signer);
  }
  format::Signoff signoff;
  if (outcome.ok()) {
    outcome = format::decode(text, signoff);
  }
  if (outcome.ok()) {
    outcome = Checks()
                  .need(signoff.owner == root.owner, Fault::signoff_owner)
                  .need(signoff.manifest == verdict.manifest_digest, Fault::signoff_manifest)
                  .need(signoff.trust_sequence <= list.sequence, Fault::signoff_trust)
                  .outcome();
  }
  if (outcome.ok()) {
    outcome = judge_signer(signoff, *signer, item);
  }
  if (outcome.ok()) {
    outcome = judge_place(signoff, counted, item);
  }
  if (outcome.ok()) {
    counted.add({signoff.role, number_of(list, signoff.person), digest_of(crypto, text)});
    narrow(signoff, verdict);
  }
  outcome.item = item;
  return outcome;
}

std::uint16_t distinct_persons(const Counted& counted, Role role) {
  std::uint16_t count = 0;
  for (std::uint16_t i = 0; i < counted.count; ++i) {
    bool again = false;
    for (std::uint16_t j = 0; j < i; ++j) {
      again = again ||
              (counted.items[j].role == role && counted.items[j].person == counted.items[i].person);
    }
    if (counted.items[i].role == role && !again) {
      ++count;
    }
  }
  return count;
}

bool one_person_in_two_roles(const Counted& counted) {
  for (const CountedSignoff& a : counted.view()) {
    for (const CountedSignoff& b : counted.view()) {
      if (a.role != b.role && a.person == b.person) {
        return true;
      }
    }
  }
  return false;
}

// The floor of one is built in; a list can only raise it.
std::uint16_t needed(const format::TrustList& list, Role role) {
  for (const format::Threshold& threshold : list.thresholds.view()) {
    if (threshold.role == role && threshold.persons > 1) {
      return threshold.persons;
    }
  }
  return 1;
}

bool enough(const format::TrustList& list, const Counted& counted, Role role) {
  return distinct_persons(counted, role) >= needed(list, role);
}

Outcome judge_thresholds(const format::TrustList& list, const Counted& counted,
                         PackageVerdict& verdict) {
  verdict.engineering = counted.count > 0 && counted.items[0].role == Role::engineering;
  if (verdict.engineering) {
    return Checks()
        .need(enough(list, counted, Role::engineering), Fault::signoff_engineering)
        .outcome();
  }
  return Checks()
      .need(enough(list, counted, Role::release), Fault::signoff_release)
      .need(!one_person_in_two_roles(counted), Fault::signoff_one_person)
      .need(enough(list, counted, Role::quality), Fault::signoff_quality)
      .outcome();
}

// Is the package whole and signed off?
Outcome judge_signoffs(const CryptoTable& crypto, const RootView& root,
                       const format::TrustList& list, const format::Source& source, ByteSpan text,
                       PackageVerdict& verdict, Counted& counted) {
  verdict = {};
  Outcome outcome = format::read_layout(source, verdict.layout);
  if (outcome.ok()) {
    outcome =
        digest_of_extent(crypto, source, verdict.layout.manifest, text, verdict.manifest_digest);
  }
  for (std::uint16_t i = 0; outcome.ok() && i < verdict.layout.signoffs.count; ++i) {
    outcome = judge_signoff(crypto, root, list, source, i, text, verdict, counted);
  }
  return outcome.ok() ? judge_thresholds(list, counted, verdict) : outcome;
}

// What the sign-offs say about the manifest, once that may be read.
Outcome judge_signoff_claims(const CryptoTable& crypto, const format::Source& source,
                             const format::Manifest& manifest, const PackageVerdict& verdict,
                             const Counted& counted, ByteSpan buffer) {
  for (std::uint16_t i = 0; i < counted.count; ++i) {
    ByteSpan text;
    Outcome outcome = read_extent(source, verdict.layout.signoffs.items[i].text, buffer, text);
    if (!outcome.ok()) {
      return outcome;
    }
    // Read again, so hashed again: it must be the text that was verified.
    const bool same = digest_of(crypto, text) == counted.items[i].text_digest;
    format::Signoff signoff;
    outcome = same ? format::decode(text, signoff) : refuse(Fault::signature_bad);
    if (outcome.ok()) {
      const bool number = signoff.epoch == manifest.epoch && signoff.sequence == manifest.sequence;
      outcome = Checks(i)
                    .need(signoff.product == manifest.product, Fault::signoff_product)
                    .need(number, Fault::signoff_sequence)
                    .outcome();
    }
    if (!outcome.ok()) {
      outcome.item = i;
      return outcome;
    }
  }
  return done;
}

Outcome judge_layout(const format::Source& source, const format::Manifest& manifest,
                     const format::PackageLayout& layout) {
  Outcome outcome;
  bool good = layout.image.size == manifest.image_size &&
              layout.chain.size == 32 * format::block_count(manifest.image_size) &&
              layout.facts.size == manifest.facts_size &&
              layout.documents.count == manifest.files.count;
  for (std::uint16_t i = 0; good && outcome.ok() && i < manifest.files.count; ++i) {
    const format::SealedFile& file = manifest.files.items[i];
    outcome = format::is_document(source, layout.documents.items[i], file.name, good);
    good = good && layout.documents.items[i].size == file.size;
  }
  if (!outcome.ok()) {
    return outcome;
  }
  return Checks().need(good, Fault::container_manifest, layout.image.offset).outcome();
}

Outcome judge_digest(const CryptoTable& crypto, const format::Source& source,
                     const format::Extent& extent, const format::Digest& expected,
                     ByteSpan buffer) {
  format::Digest digest{};
  const Outcome outcome = digest_of_extent(crypto, source, extent, buffer, digest);
  return !outcome.ok() ? outcome
                       : Checks()
                             .need(digest == expected, Fault::container_manifest, extent.offset)
                             .outcome();
}

// The one entry of the chain that streaming takes from the manifest instead.
Outcome judge_chain_head(const format::Source& source, const format::Manifest& manifest,
                         const format::PackageLayout& layout) {
  format::Digest head{};
  const Outcome outcome = source.read(source.context, layout.chain.offset, head);
  return !outcome.ok() ? outcome
                       : Checks()
                             .need(head == manifest.chain_head, Fault::container_manifest,
                                   layout.chain.offset)
                             .outcome();
}

Outcome judge_contents(const CryptoTable& crypto, const format::Source& source,
                       const format::Manifest& manifest, const format::PackageLayout& layout,
                       ByteSpan buffer) {
  Outcome outcome = judge_layout(source, manifest, layout);
  if (outcome.ok()) {
    outcome = judge_chain_head(source, manifest, layout);
  }
  if (outcome.ok()) {
    outcome = judge_digest(crypto, source, layout.facts, manifest.facts_digest, buffer);
  }
  for (std::uint16_t i = 0; outcome.ok() && i < manifest.files.count && i < layout.documents.count;
       ++i) {
    outcome = judge_digest(crypto, source, layout.documents.items[i],
                           manifest.files.items[i].digest, buffer);
  }
  return outcome;
}

Outcome read_manifest(const CryptoTable& crypto, const format::Source& source,
                      const PackageVerdict& verdict, ByteSpan buffer, format::Manifest& manifest) {
  ByteSpan text;
  const Outcome outcome = read_extent(source, verdict.layout.manifest, buffer, text);
  if (!outcome.ok()) {
    return outcome;
  }
  if (digest_of(crypto, text) != verdict.manifest_digest) {
    return refuse(Fault::signoff_manifest); // the second read gave other bytes
  }
  return format::decode(text, manifest);
}

} // namespace

Outcome digest_of_extent(const CryptoTable& crypto, const format::Source& source,
                         const format::Extent& extent, ByteSpan buffer, format::Digest& digest) {
  crypto.sha256_start(crypto.context);
  for (std::uint32_t at = 0; at < extent.size;) {
    const std::uint32_t left = extent.size - at;
    const ByteSpan piece = buffer.first(left < buffer.size() ? left : buffer.size());
    const Outcome outcome = source.read(source.context, extent.offset + at, piece);
    if (!outcome.ok()) {
      return outcome;
    }
    crypto.sha256_add(crypto.context, piece.data(), piece.size());
    at += static_cast<std::uint32_t>(piece.size());
  }
  crypto.sha256_finish(crypto.context, digest.data());
  return done;
}

Outcome judge_package(const CryptoTable& crypto, const RootView& root,
                      const format::TrustList& list, const format::Source& source, ByteSpan text,
                      format::Manifest& manifest, PackageVerdict& verdict) {
  Counted counted;
  Outcome outcome = judge_signoffs(crypto, root, list, source, text, verdict, counted);
  if (outcome.ok()) {
    outcome = read_manifest(crypto, source, verdict, text, manifest);
  }
  if (outcome.ok()) {
    outcome = judge_signoff_claims(crypto, source, manifest, verdict, counted, text);
  }
  if (outcome.ok()) {
    outcome = judge_manifest(manifest, verdict.manifest_digest, verdict.engineering, root, list);
  }
  return outcome.ok() ? judge_contents(crypto, source, manifest, verdict.layout, text) : outcome;
}

ImageStream::ImageStream(const CryptoTable& crypto, const format::Source& source,
                         const format::PackageLayout& layout, const format::Digest& chain_head)
    : crypto_(crypto), source_(source), layout_(layout), expected_(chain_head),
      count_(format::block_count(layout.image.size)) {}

Outcome ImageStream::next(ByteSpan block, std::size_t& size) {
  const std::uint32_t at = index_ * static_cast<std::uint32_t>(format::chain_block);
  const std::uint32_t left = layout_.image.size - at;
  size = left < format::chain_block ? left : format::chain_block;
  const ByteSpan bytes = block.first(size);
  format::Digest following{}; // 32 zero bytes after the last block
  Outcome outcome = source_.read(source_.context, layout_.image.offset + at, bytes);
  if (outcome.ok() && index_ + 1 < count_) {
    outcome = source_.read(source_.context, layout_.chain.offset + 32 * (index_ + 1), following);
  }
  if (outcome.ok()) {
    format::Digest digest{};
    crypto_.sha256_start(crypto_.context);
    crypto_.sha256_add(crypto_.context, bytes.data(), bytes.size());
    crypto_.sha256_add(crypto_.context, following.data(), following.size());
    crypto_.sha256_finish(crypto_.context, digest.data());
    outcome = Checks().need(digest == expected_, Fault::image_block, at).outcome();
  }
  if (!outcome.ok()) {
    fill(bytes, 0);
    size = 0;
    return outcome;
  }
  expected_ = following;
  ++index_;
  return done;
}

} // namespace cardseal::trust
