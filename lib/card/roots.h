// The owner's roots on a card, from the first to the one in force (format/root_chain.h), so that a
// station several versions behind catches up.
#pragma once

#include "seal/roots.h"

namespace cardseal::card {

// An error when stations would not read so much.
Try<io::Bytes> roots_file(const seal::OwnerRoot& root);

// Walks on from `root` through the roots of a card, as a station that has `root` does; the newest.
// `card` is for messages.
Try<seal::OwnerRoot> follow_roots(const seal::OwnerRoot& root, ByteView roots_file,
                                  const std::string& card);

} // namespace cardseal::card
