// A whole owner in memory, made from fixed seeds: root, trust list, a release package signed off,
// an allotment, a signed card index, and the FAT32 card that holds them. A test changes what it is
// about and builds again; whatever follows from the change (digests, signatures, sizes) follows,
// unless the test changes it after that step. Key material here is worth nothing.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "crypto/ed25519.h"
#include "fat32/memory.h"
#include "fat32/plan.h"
#include "format/card_texts.h"
#include "format/codec.h"
#include "format/container.h"
#include "format/facts.h"
#include "format/root.h"
#include "format/signoff.h"

namespace cardseal::test {

using Bytes = std::vector<std::uint8_t>;

enum class Who : std::uint8_t {
  root_a,
  root_b,
  release,
  quality,
  allot,
  engineering,
  stranger,
  root_c,
  withdraw,
};

const crypto::SigningKey& key_of(Who who);
format::Digest digest_of(ByteView bytes);

template <class T>
Bytes spelled(const T& value) {
  Bytes out(T::limit);
  Outcome outcome;
  out.resize(format::encode(value, out, outcome));
  if (out.empty()) {
    throw std::runtime_error("a test's text is not in form: fault " +
                             std::to_string(static_cast<int>(outcome.fault)) + " in line " +
                             std::to_string(outcome.position));
  }
  return out;
}

template <std::size_t N>
format::Text<N> text(std::string_view value) {
  format::Text<N> out;
  if (!out.set(value)) {
    throw std::invalid_argument("too long: " + std::string(value));
  }
  return out;
}
inline format::Id id(std::string_view value) {
  return text<16>(value);
}

Bytes sign(Who who, std::string_view kind, ByteView body);

struct SignedSignoff {
  format::Signoff signoff;
  Who by = Who::release;
};

struct SignedRoot {
  format::Root root; // owner, version and previous are filled in
  std::vector<Who> by;
};

struct SignedWithdrawal {
  format::Withdrawal text; // owner is filled in
  Who by = Who::quality;
};

struct Card {
  fat32::VolumePlan plan;
  std::shared_ptr<fat32::MemoryCard> sectors;
  Bytes sector(std::uint32_t lba) const;
  void set(std::uint32_t lba, std::size_t offset, ByteView bytes) const; // within one sector
  std::uint32_t lba_of(std::string_view path) const;                     // where a file starts
};

class CardKit {
public:
  CardKit();

  // What it is made from; change at will, then build().
  format::Root root;
  format::TrustList list;
  std::vector<Who> list_signers{Who::root_a};
  format::Manifest manifest; // image, chain, facts and files are filled in
  Bytes image;
  std::vector<SignedSignoff> signoffs; // owner, manifest and previous are filled in
  format::Allotment allotment;         // owner and manifest are filled in
  Who allotment_signer = Who::allot;
  std::vector<format::Allotment> more_allotments; // A02 and so on, filled in and signed likewise
  format::CardIndex index; // everything but card id, root version and trust sequence is filled in
  Who index_signer = Who::allot;
  std::uint32_t log_records = 127; // 0: a card without a log, signed as such
  bool partitioned = false;
  bool with_list = true;
  std::vector<SignedRoot> next_roots; // the card carries all roots when there are any
  std::vector<SignedWithdrawal> withdrawals;

  // Steps between: each sees what was filled in and may change it before it is spelled and signed.
  std::function<void(std::uint32_t version, format::Root&)> on_root; // from version 2 on
  std::function<void(Bytes&)> on_roots;                              // the file
  std::function<void(format::TrustList&)> on_list;
  std::function<void(format::Facts&)> on_facts;
  std::function<void(format::Manifest&)> on_manifest;
  std::function<void(std::size_t, format::Signoff&)> on_signoff;
  std::function<void(format::Allotment&)> on_allotment;
  std::function<void(format::CardIndex&)> on_index;
  std::function<void(Bytes&)> on_package;                     // the index follows
  std::function<void(std::map<std::string, Bytes>&)> on_card; // after the index was signed

  Card build();

  // After build().
  Bytes root_text() const { return spelled(root); }
  std::vector<Bytes> root_texts; // all that the card carries
  format::Digest owner() const { return digest_of(root_text()); }
  Bytes list_text, manifest_text, package, allotment_text, index_text;
  std::map<std::string, Bytes> files; // by path, as they lie on the card

private:
  Bytes build_package();
  void build_roots();
  void build_withdrawals();
  void build_texts();
  void fill_index(const format::Maybe<format::LogExtent>& log);
};

// The package's container around these entries, in order.
Bytes container_of(const std::vector<std::pair<std::string, Bytes>>& entries);
Bytes chain_of(ByteView image);

} // namespace cardseal::test
