// The tables of a register. Its own rules keep its promises, whatever program writes it:
//
// - Ranges of a window form one list: each begins exactly where another one ended (a foreign key),
//   no two begin or end at one place, each ends above where it begins. So none overlap, and no
//   number is left out. A trigger says the same for programs that leave foreign keys off.
// - Windows of one scheme share no number.
// - Nothing is ever changed or taken away; what may still become known of an allotment is a row of
//   its own, or moves forward only.
//
// A later layout adds tables and rules and changes none, so a register of an older one is taken
// over by adding what it lacks, and is then the same as one that was made by this version.
#pragma once

namespace cardseal::registry {

inline constexpr unsigned application_id = 0x43536752; // "CSgR"
inline constexpr unsigned schema_version = 6;
inline constexpr unsigned oldest_taken_over = 4;

extern const char* const schema_sql;   // layout 4
extern const char* const layout_5_sql; // what layout 5 added
extern const char* const layout_6_sql; // what layout 6 added

} // namespace cardseal::registry
