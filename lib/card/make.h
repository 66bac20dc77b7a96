// One card for one station, from packages that are signed off: everything on it is planned, signed
// and known before the first byte is written. Same inputs, same bytes.
#pragma once

#include <set>

#include "card/layout.h"
#include "card/order.h"
#include "package/package.h"
#include "seal/owner.h"

namespace cardseal::card {

struct CardJob { // the work with one package
  package::Judged judged;
  CardOrder order;

  const package::Package& package() const { return judged.package(); }
};

struct MakeInput {
  std::vector<CardJob> jobs; // in the order in which a station offers them; one at least
  const seal::OwnerRoot& root;
  const seal::OwnerTrust& trust;
  const crypto::SigningKey& allot_key; // must be active in role allot
};

struct SealedAllotment {
  format::Allotment allotment;
  io::Bytes text; // as sealed
  crypto::Signature signature{};
};

struct Card {
  fat32::VolumePlan plan;
  std::vector<CardFile> files;    // in the plan's order
  std::set<std::string> unlisted; // paths of those that follow from package and allotment
  format::CardIndex index;
  std::vector<SealedAllotment> allotments; // of the jobs, in their order
  std::string setup_sheet;
  format::StationReads reads = format::StationReads::signed_package; // the card's station
  bool has_log() const { return reads == format::StationReads::signed_package; }
};

// What the card is like follows from the station's model in the packages' facts. Refused as a
// station would refuse (kind `refused`), or with an error that says what does not fit.
Try<Card> make_card(const MakeInput& input);
// The two halves of it: everything but the signatures, which are zeros; then these, and nothing
// moves.
Try<Card> plan_card(const MakeInput& input);
Try<void> sign_card(const MakeInput& input, Card& card);

// Slots that an order enables: as stated, or all that the release permits and the model has.
Try<std::uint32_t> slots_of(const package::Package& package, const CardOrder& order);

// Into a new file, which the caller commits.
Try<void> fill_card(const Card& card, io::NewFile& file);
// All or nothing, sparse where the file system allows it.
Try<void> write_card(io::System& system, const Card& card, const io::Path& path,
                     io::IfExists if_exists);

} // namespace cardseal::card
