#include "crypto/no_secrets.h"

#include <cstdlib>

namespace cardseal::crypto {

void expect_no_secrets() {
  (void)::setenv("BOTAN_MLOCK_POOL_SIZE", "0",
                 0); // the library's own switch, read at its first use
}

} // namespace cardseal::crypto
