// From one root to the next. A new root needs the persons of the old one, who give it its power,
// and its own, who show that they hold their keys.
#pragma once

#include "trust/list_rules.h"

namespace cardseal::trust {

// The next root in order: signed by the old root's threshold (309) before anything of it is parsed;
// of the same owner (301), one version further and naming the old text (310); every signature by a
// key of either root, ascending by key (321, 322, 323), and the new root's own threshold among them
// (309). `next` is set on success. `now_text` is the digest of the old root's text.
Outcome judge_next_root(const CryptoTable& crypto, const RootView& now,
                        const format::Digest& now_text, ByteView text, const SignatureSet& set,
                        format::Root& next);

// Different persons of `root` whose keys made signatures of the set; others are passed over.
std::size_t persons_signed(const CryptoTable& crypto, const format::Root& root, ByteView text,
                           const SignatureSet& set);

} // namespace cardseal::trust
