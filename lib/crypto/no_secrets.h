// For a program that handles neither key nor passphrase.
#pragma once

namespace cardseal::crypto {

// Said before anything else of this module is used: the library then locks no memory for secrets,
// which takes longer than hashing the files of a card.
void expect_no_secrets();

} // namespace cardseal::crypto
