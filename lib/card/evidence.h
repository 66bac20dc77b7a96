// Sealed allotments as evidence for a register: from cards, and the newest one kept beside it.
#pragma once

#include "card/layout.h"
#include "fat32/sectors.h"
#include "register/types.h"
#include "seal/owner.h"

namespace cardseal::card {

// A file beside the register, not part of it: the text and then the 64 bytes of its signature. When
// the register alone comes back from a backup, this shows it.
io::Path newest_path(const io::Path& register_file);

class Newest { // the file at such a path
public:
  // Refers to all but the path.
  Newest(io::System& system, io::Path path, const seal::OwnerRoot& root,
         const format::TrustList& list);

  Try<void> keep(ByteView text, const crypto::Signature& signature);
  // Read each time, since other desks keep theirs there; verified when it is not what was verified
  // last. None when there is no such file, or when it holds no allotment that a desk of this owner
  // signed.
  Try<std::optional<registry::Evidence>> read();
  const io::Path& path() const { return path_; }

private:
  io::System& system_;
  io::Path path_;
  const seal::OwnerRoot& root_;
  const format::TrustList& list_;
  io::Bytes verified_; // what `evidence_` is of
  std::optional<registry::Evidence> evidence_;
};

// The id that a card, station card or plain, says it has: nothing is verified.
Try<format::CardId> read_card_id(fat32::SectorSource& card, const std::string& file);

// Every allotment on a card that a desk of this owner signed, by a key that the list names in role
// allot, revoked or not. An error when the card can't be read or there is none.
Try<std::vector<registry::Evidence>> read_evidence(fat32::SectorSource& card,
                                                   const std::string& file,
                                                   const seal::OwnerRoot& root,
                                                   const format::TrustList& list);

} // namespace cardseal::card
