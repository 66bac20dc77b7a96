// What must hold of an Ed25519 key and signature before any library sees them. Libraries differ on
// S >= L, on non-canonical points and on points of small order (RFC 8032 section 5.1.7 leaves
// room); here they never pass, on desk and station alike.
#pragma once

#include "base/bytes.h"

namespace cardseal::trust {

// 32 bytes, y < 2^255 - 19, not one of the encodings of the eight points of small order, and not
// x = 0 with the sign bit set.
bool public_key_form_ok(ByteView key);

// 64 bytes; R in the form of public_key_form_ok; S < L, L the order of the base point.
bool signature_form_ok(ByteView signature);

} // namespace cardseal::trust
