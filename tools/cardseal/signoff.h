// A sign-off that is about to be made: its text, and what the package with it would be.
#pragma once

#include "common.h"
#include "package/package.h"

namespace cardseal::tool {

struct Matter { // what is signed, and by whose rules
  Owner owner;
  package::Package package;
};
Try<Matter> read_matter(const SignOptions& options);

struct Request {
  Matter matter;
  format::Signoff signoff;
  io::Bytes text;
};

// From the options, for the holder of `key`, who must be enrolled for the role and not have signed.
Try<Request> make_request(const SignOptions& options, Matter matter, const format::Key& key);

// The package with the sign-off, when it brings the package forward: what a station would say of it
// decides.
Try<io::Bytes> with_signature(const Request& request, const crypto::Signature& signature);

// The same without a signature: a throw-away key takes the place of the named one everywhere, in a
// package and a list that nobody keeps.
Try<void> rehearse(const Request& request);

} // namespace cardseal::tool
