// Steps that several operations share, inside one transaction of the caller's.
#pragma once

#include "register/entry.h"

namespace cardseal::registry {

// The ranges of a scheme's windows that are still to be given, ascending.
struct Open {
  std::uint64_t window = 0;
  std::uint64_t next = 0;
  std::uint64_t last = 0;
};
Try<std::vector<Open>> open_ranges(Database& database, std::string_view scheme);

// The scheme's definition is the one that numbers were given under before: else two ordinals could
// have one text.
Try<void> keep_scheme(Database& database, Head& head, const format::Id& scheme,
                      const format::Digest& definition);

Error no_window(std::string_view scheme);
// Allotments of a station count up to 999,999,999.
Try<void> check_serial(const format::Id& station, std::uint64_t serial);

// What of `windows` no window here covers becomes windows here. How many.
Try<std::size_t> add_windows(Database& database, Head& head,
                             const std::vector<format::Window>& windows);

// The next `count` ordinals that all of these allow.
struct Wanted {
  std::string_view scheme;
  std::uint64_t count = 0;
  std::uint64_t capacity = 0; // 0: not known
  const std::vector<format::Window>& permitted;
  const format::Maybe<format::OrdinalRange>& numbers;
};
struct Place {
  std::uint64_t window = 0;
  Range range;
};
Try<Place> find_place(Database& database, const Wanted& wanted);

// The row of a range; the entry is `head`'s newest. Its id.
Try<std::uint64_t> insert_range(Database& database, const Head& head, const Place& place, Use use,
                                std::string_view note);

// Up to `before`, in every window of the scheme (all schemes when empty). How many numbers.
Try<std::uint64_t> abandon_up_to(Database& database, Head& head, std::string_view scheme,
                                 std::uint64_t before, Use use, std::string_view note);

// The station's newest enrolment, and the serial of its next allotment.
Try<Enrolled> station_now(Database& database, const format::Id& station);
Try<void> insert_enrolment(Database& database, Head& head, const format::Id& station,
                           std::uint64_t number, std::uint64_t first_serial);

// The work order that counts and closes this one: itself, unless it was merged.
Try<std::string> whole_of(Database& database, std::string_view work_order);
// `lot-merged`.
Try<void> check_not_merged(Database& database, std::string_view work_order);

// Of an order that others were merged into, with what was just added: `merge-size`.
Try<void> check_whole_size(Database& database, std::string_view work_order);

// Quality's closing word about a lot is the last, also for those merged into it: `lot-closed`.
Try<void> check_lot_open(Database& database, std::string_view work_order);

// 1 to 96 printable ASCII characters.
Try<void> check_note(const std::string& note, const char* what = "the note");

} // namespace cardseal::registry
