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
Try<void> keep_newest(io::System& system, const io::Path& path, ByteView text,
                      const crypto::Signature& signature);
// None when there is no such file, or when it holds no allotment that a desk of this owner signed.
Try<std::optional<registry::Evidence>> read_newest(io::System& system, const io::Path& path,
                                                   const seal::OwnerRoot& root,
                                                   const format::TrustList& list);

// The id that a card, station card or plain, says it has: nothing is verified.
Try<format::CardId> read_card_id(fat32::SectorSource& card, const std::string& file);

// Every allotment on a card that a desk of this owner signed, by a key that the list names in role
// allot, revoked or not. An error when the card can't be read or there is none.
Try<std::vector<registry::Evidence>> read_evidence(fat32::SectorSource& card,
                                                   const std::string& file,
                                                   const seal::OwnerRoot& root,
                                                   const format::TrustList& list);

} // namespace cardseal::card
