// Check characters, each by its published rule:
//
//   luhn        ISO/IEC 7812-1, annex B: from the right every second digit doubled, sum to tens
//   mod-11-2, mod-37-2, mod-97-10    ISO/IEC 7064, pure systems; 97-10 gives 02 to 98
//   mod-11-10, mod-37-36             ISO/IEC 7064, hybrid systems MOD 11,10 and MOD 37,36
//   gs1-mod-10  GS1 General Specifications: weights 3 and 1 from the right
//   damm        H. M. Damm, "Total anti-symmetrische Quasigruppen" (2004), the table of order 10
//   verhoeff    J. Verhoeff, "Error Detecting Decimal Codes" (1969), dihedral group of order 10
#pragma once

#include "format/serial_scheme.h"

namespace cardseal::unit {

// The characters in `out`, as many as check_length says. False when the kind does not cover one of
// `text`'s characters.
bool check_characters(format::CheckKind kind, std::string_view text, std::array<char, 2>& out);

} // namespace cardseal::unit
