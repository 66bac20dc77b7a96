// What a reader accepted but a person should know of. Each kind of thing is noted once, with how
// often it occurred and where first. Notes never change the image or its digest.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace cardseal::image {

namespace note {
inline constexpr std::string_view byte_order_mark = "byte-order-mark"; // before the first line
inline constexpr std::string_view blank_line = "blank-line";
inline constexpr std::string_view space_around_record = "space-around-record";
inline constexpr std::string_view trailing_1a = "trailing-1a"; // the last byte of the file is 0x1A
inline constexpr std::string_view comment_line = "comment-line"; // allowed by an option
inline constexpr std::string_view missing_end = "missing-end";   // allowed by an option
inline constexpr std::string_view text_after_end = "text-after-end";
inline constexpr std::string_view empty_record = "empty-record"; // a data record without data
inline constexpr std::string_view end_address = "end-address"; // the end record carries an address
inline constexpr std::string_view out_of_order = "out-of-order"; // below the data record before it
inline constexpr std::string_view segment_wrap = "segment-wrap"; // goes on at its segment's start
inline constexpr std::string_view same_start = "same-start";     // one start address given twice
inline constexpr std::string_view same_bytes = "same-bytes";     // counts bytes given twice
inline constexpr std::string_view no_data = "no-data";
inline constexpr std::string_view end_kind = "end-kind";     // an S9 ends S3 data, and the like
inline constexpr std::string_view past_width = "past-width"; // past 0xFFFF in S1, 0xFFFFFF in S2
inline constexpr std::string_view data_after_count = "data-after-count"; // of S5 or S6
inline constexpr std::string_view more_headers = "more-headers";       // S0 after the first record
inline constexpr std::string_view segment_padding = "segment-padding"; // zero bytes left out
inline constexpr std::string_view no_physical_address = "no-physical-address"; // virtual ones taken
} // namespace note

struct Note {
  std::string_view id;     // one of the constants above
  std::uint64_t count = 0; // lines or records; bytes for `same_bytes` and `segment_padding`
  std::uint32_t line = 0;  // the first one, from 1; 0 when the input has no lines
  std::string detail;      // an address or a range of addresses; may be empty
};

class Notes {
public:
  // Counts one more of `id`; line and detail are kept from the first.
  void add(std::string_view id, std::uint32_t line, std::string detail = {},
           std::uint64_t count = 1);
  const std::vector<Note>& all() const { return notes_; } // in the order in which they first came
  const Note* find(std::string_view id) const;            // null when there is none

private:
  std::vector<Note> notes_;
};

} // namespace cardseal::image
