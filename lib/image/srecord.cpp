#include "image/srecord.h"

#include <algorithm>

#include "image/hex_digits.h"
#include "image/record_text.h"
#include "image/spell.h"

namespace cardseal::image {
namespace {

constexpr std::size_t head_characters = 4; // 'S', type and count
constexpr std::size_t shortest_data = 12;  // characters of a record with one byte of data
constexpr std::uint64_t last_address_possible = 0xFFFFFFFF;
constexpr std::uint8_t right_sum = 0xFF;

// Bytes of address in each type of record; S4 has no meaning.
constexpr std::array<std::uint8_t, 10> widths{2, 2, 3, 4, 0, 2, 3, 4, 3, 2};

bool is_data(std::uint8_t type) {
  return type >= 1 && type <= 3;
}

std::uint32_t load_address(ByteView bytes) {
  std::uint32_t out = 0;
  for (const std::uint8_t byte : bytes) {
    out = (out << 8) | byte;
  }
  return out;
}

std::string spell_type(std::uint8_t type) {
  return "S" + std::to_string(type);
}

} // namespace

SRecordReader::SRecordReader(std::string file, const SRecordReadOptions& options)
    : options_(options), file_(builder_.add_file(std::move(file))) {}

// A byte of data takes more than two characters. Room that stays unused is never touched.
void SRecordReader::expect(std::uint64_t characters) {
  builder_.reserve(characters / 2);
}

Error SRecordReader::fault(const char* code, const char* what, std::uint32_t column) const {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = code;
  error.what = what;
  error.place.file = builder_.file_name(file_);
  error.place.line = line_;
  error.place.column = column;
  error.hint = get_again;
  return error;
}

// Usual lines one after the other: data records with nothing around them, each behind the one
// before, where nothing is to be noted or refused. Returns the characters taken with their line
// ends. Stops before anything else, also before every fault: take_line() looks again and names it.
std::size_t SRecordReader::take_usual_lines(ByteView chunk) {
  std::size_t at = 0;
  while (!counted_ && chunk.size() - at > shortest_data && chunk[at] == 'S' &&
         is_data(static_cast<std::uint8_t>(chunk[at + 1] - '0'))) {
    const auto type = static_cast<std::uint8_t>(chunk[at + 1] - '0');
    const std::uint8_t* const digits = &chunk[at + 2];
    const std::size_t width = widths[type];
    const std::uint64_t head = decode_eight_digits(digits); // count and three bytes more
    const std::uint64_t wide = width == 4 ? decode_eight_digits(digits + 2) : 0;
    if (head == not_eight_digits || wide == not_eight_digits) {
      break;
    }
    const std::size_t count = head >> 24;
    const std::size_t characters = head_characters + 2 * count;
    if (count <= width + 1 || chunk.size() - at <= characters ||
        !is_line_end(chunk[at + characters])) {
      break;
    }
    const std::size_t length = count - width - 1;
    const std::uint64_t address = width == 4 ? wide : (head & 0xFFFFFFU) >> (24 - 8 * width);
    if (address < last_address_ || (address + length - 1) >> (8 * width) != 0) {
      break;
    }
    std::uint8_t* const data = builder_.room(length + 1); // the checksum too
    std::uint8_t sum = 0;
    if (!decode_digits(digits + 2 * (1 + width), length + 1, data, sum) ||
        static_cast<std::uint8_t>(count + sum_of_four_bytes(address) + sum) != right_sum) {
      break;
    }
    ++data_records_;
    widest_ = std::max(widest_, widths[type]);
    last_address_ = address;
    builder_.add(address, ByteView(data, length), file_, ++line_);
    skip_line_feed_ = chunk[at + characters] == '\r';
    at += characters + 1;
    if (skip_line_feed_ && at < chunk.size()) {
      skip_line_feed_ = false;
      at += chunk[at] == '\n' ? 1 : 0;
    }
  }
  return at;
}

Try<void> SRecordReader::feed(ByteView chunk) {
  any_byte_ = any_byte_ || !chunk.empty();
  if (skip_line_feed_ && !chunk.empty()) {
    skip_line_feed_ = false;
    chunk = chunk.subspan(chunk[0] == '\n' ? 1 : 0);
  }
  while (!chunk.empty()) {
    if (carry_.empty() && !ended_) {
      chunk = chunk.subspan(take_usual_lines(chunk));
    }
    const auto end = std::find_if(chunk.begin(), chunk.end(), is_line_end);
    const auto length = static_cast<std::size_t>(end - chunk.begin());
    carry_.insert(carry_.end(), chunk.begin(),
                  chunk.begin() + static_cast<std::ptrdiff_t>(std::min(length, longest_line + 1)));
    if (end == chunk.end() && carry_.size() <= longest_line) {
      return {};
    }
    skip_line_feed_ = end != chunk.end() && *end == '\r';
    if (auto done = take_line(carry_); !done) {
      return done;
    }
    carry_.clear();
    chunk = chunk.subspan(length + 1);
    if (skip_line_feed_ && !chunk.empty()) {
      skip_line_feed_ = false;
      chunk = chunk.subspan(chunk[0] == '\n' ? 1 : 0);
    }
  }
  return {};
}

Try<void> SRecordReader::take_line(ByteView line) {
  ++line_;
  if (line.size() > longest_line) {
    Error error = fault("srec-line-long", "line is too long", 1);
    error.found = "more than " + spell_count(longest_line, "character");
    error.expected = "at most " + std::to_string(longest_line);
    return Unexpected(std::move(error));
  }
  const Trimmed trimmed = trim(line, line_ == 1);
  column_ = trimmed.column;
  if (trimmed.mark) {
    out_.notes.add(note::byte_order_mark, line_);
  }
  if (trimmed.text.empty()) {
    out_.notes.add(note::blank_line, line_);
    return {};
  }
  if (ended_) {
    return take_text_after_end(line);
  }
  if (trimmed.text[0] != 'S' && options_.allow_comments && is_comment(trimmed.text)) {
    out_.notes.add(note::comment_line, line_);
    return {};
  }
  if (trimmed.spaces) {
    out_.notes.add(note::space_around_record, line_);
  }
  return take_record(trimmed.text);
}

// Readers drop everything here without a word; whoever approves the firmware should see it. A line
// is text unless it begins as a record does.
Try<void> SRecordReader::take_text_after_end(ByteView line) {
  const ByteView text = line.subspan(column_ - 1);
  const bool record = text.size() > 3 && text[0] == 'S' && text[1] >= '0' && text[1] <= '9' &&
                      is_hex_digit(text[2]) && is_hex_digit(text[3]);
  const std::size_t end = text_end(line);
  if (record || end != line.size()) {
    Error error = fault("srec-after-end", "something other than text follows the end record",
                        record ? column_ : static_cast<std::uint32_t>(end + 1));
    error.found = record ? excerpt(text) : spell_character(line[end]);
    error.expected = "nothing, or lines of text";
    error.hint = "two files may have been joined; keep the one that was approved";
    return Unexpected(std::move(error));
  }
  out_.notes.add(note::text_after_end, line_, excerpt(line));
  if (out_.text_after_end.size() < text_lines_kept) {
    out_.text_after_end.push_back({line_, std::string(text_of(line))});
  }
  return {};
}

Try<void> SRecordReader::take_type(ByteView text) {
  const bool digit = text.size() > 1 && text[1] >= '0' && text[1] <= '9';
  if (!digit || text[1] == '4') {
    Error error = fault("srec-type", digit ? "record type is reserved" : "record type is unknown",
                        column_ + 1);
    error.found = text.size() > 1 ? spell_character(text[1]) : "the end of the line";
    error.expected = "S0 to S3 or S5 to S9";
    return Unexpected(std::move(error));
  }
  record_.type = static_cast<std::uint8_t>(text[1] - '0');
  record_.width = widths[record_.type];
  return {};
}

// The characters of the record from its count on are digits, and as many as the count says.
Try<void> SRecordReader::take_digits(ByteView text, std::size_t wanted) {
  for (std::size_t index = 2; index < std::min(text.size(), wanted); ++index) {
    if (!is_hex_digit(text[index])) {
      Error error = fault("srec-digit", "record holds something other than hex digits",
                          column_ + static_cast<std::uint32_t>(index));
      error.found = spell_character(text[index]);
      error.expected = "a digit, 0 to 9 or A to F";
      return Unexpected(std::move(error));
    }
    if (index == 3) {
      std::uint8_t sum = 0;
      decode_digits(&text[2], 1, &record_.count, sum);
      wanted = head_characters + 2 * std::size_t{record_.count};
    }
  }
  if (text.size() != wanted) {
    const bool is_short = text.size() < wanted;
    Error error = is_short ? fault("srec-short", "record ends early",
                                   column_ + static_cast<std::uint32_t>(text.size()))
                           : fault("srec-long", "record goes on after its checksum",
                                   column_ + static_cast<std::uint32_t>(wanted));
    error.found = is_short ? spell_count(text.size(), "character") : excerpt(text.subspan(wanted));
    error.expected = is_short ? spell_count(wanted, "character") : "the end of the line";
    return Unexpected(std::move(error));
  }
  return {};
}

// Fills record_ from the line's text, spaces around it taken off.
Try<void> SRecordReader::decode(ByteView text) {
  if (auto known = take_type(text); !known) {
    return known;
  }
  if (auto digits = take_digits(text, head_characters); !digits) {
    return digits;
  }
  const bool may_hold_data = record_.type <= 3;
  const unsigned least = record_.width + 1U;
  if (record_.count < least || (!may_hold_data && record_.count != least)) {
    Error error = fault("srec-length", "record type has another length", column_ + 2);
    error.found = "count " + std::to_string(record_.count);
    error.expected = (may_hold_data ? "at least " : "") + std::to_string(least) + " in an " +
                     spell_type(record_.type) + " record";
    return Unexpected(std::move(error));
  }
  std::uint8_t sum = 0;
  decode_digits(&text[2], (text.size() - 2) / 2, record_.bytes.data(), sum);
  if (sum != right_sum) {
    const std::uint8_t found = record_.bytes[record_.count];
    Error error = fault("srec-checksum", "record checksum does not match",
                        column_ + static_cast<std::uint32_t>(text.size() - 2));
    error.found = spell_byte(found);
    error.expected = spell_byte(static_cast<std::uint8_t>(found + (right_sum - sum)));
    error.hint = get_again;
    error.hint += "; do not correct the checksum by hand";
    return Unexpected(std::move(error));
  }
  record_.address = load_address(ByteView(record_.bytes).subspan(1, record_.width));
  return {};
}

Try<void> SRecordReader::take_record(ByteView text) {
  if (text[0] != 'S') {
    Error error = fault("srec-line-start", "line is not a record", column_);
    error.found = spell_character(text[0]);
    error.expected = "'S'";
    if (is_comment(text)) {
      error.hint = "an option allows comment lines";
    } else if (text[0] == 's') {
      error.hint = "records begin with a capital S";
    }
    return Unexpected(std::move(error));
  }
  if (auto done = decode(text); !done) {
    return done;
  }
  return is_data(record_.type) ? take_data() : take_other_record();
}

Try<void> SRecordReader::take_other_record() {
  if (record_.type == 0) {
    take_header();
    return {};
  }
  if (record_.type <= 6) {
    return take_count();
  }
  take_end();
  return {};
}

void SRecordReader::take_header() {
  if (any_header_ || data_records_ != 0) {
    out_.notes.add(note::more_headers, line_);
  }
  if (!any_header_) {
    out_.header = text_of(record_.data());
  }
  any_header_ = true;
}

Try<void> SRecordReader::take_count() {
  counted_ = true;
  if (record_.address == data_records_) {
    return {};
  }
  Error error = fault("srec-count", "number of data records does not match", column_ + 4);
  error.found = std::to_string(record_.address);
  error.expected = std::to_string(data_records_) + ", as many as were read";
  error.hint = get_again;
  error.hint += ": lines may have been lost or added";
  return Unexpected(std::move(error));
}

void SRecordReader::take_end() {
  ended_ = true;
  if (record_.address != 0) {
    out_.start = StartAddress{StartKind::linear, record_.address, line_};
  }
  if (widest_ != 0 && widest_ != record_.width) {
    out_.notes.add(note::end_kind, line_,
                   spell_type(record_.type) + " ends S" + std::to_string(widest_ - 1) + " data");
  }
}

Try<void> SRecordReader::take_data() {
  ++data_records_;
  widest_ = std::max(widest_, record_.width);
  if (counted_) {
    out_.notes.add(note::data_after_count, line_);
  }
  if (record_.length() == 0) {
    out_.notes.add(note::empty_record, line_);
    return {};
  }
  const std::uint64_t address = record_.address;
  const std::uint64_t last = address + record_.length() - 1;
  if (last > last_address_possible) {
    Error error = fault("srec-past-4g", "data runs past the last address", column_ + 4);
    error.found = "last byte at " + spell_address(last);
    error.expected = "0xFFFFFFFF at most";
    return Unexpected(std::move(error));
  }
  // GNU binutils 2.40 and SRecord 1.64 both go on above (measured).
  if (last >> (8U * record_.width) != 0) {
    out_.notes.add(note::past_width, line_, spell_address(last));
  }
  if (address < last_address_) {
    out_.notes.add(note::out_of_order, line_, spell_address(address));
  }
  last_address_ = address;
  builder_.add(address, record_.data(), file_, line_);
  return {};
}

Try<Firmware> SRecordReader::finish() {
  if (!any_byte_) {
    line_ = 1;
    Error error = fault("srec-empty", "file is empty", 1);
    error.found = "0 bytes";
    error.expected = "records";
    return Unexpected(std::move(error));
  }
  if (!carry_.empty() && carry_.back() == substitute) {
    out_.notes.add(note::trailing_1a, line_ + 1);
    carry_.pop_back();
  }
  if (!carry_.empty()) {
    if (auto last = take_line(carry_); !last) {
      return Unexpected(std::move(last).error());
    }
  }
  if (!ended_ && !options_.allow_missing_end) {
    line_ += carry_.empty() ? 1 : 0;
    Error error = fault("srec-no-end", "there is no end record",
                        static_cast<std::uint32_t>(carry_.size() + 1));
    error.found = "the end of the file";
    error.expected = "a record S7, S8 or S9";
    error.hint = get_again;
    error.hint += ": it may be cut short; an option accepts it as it is";
    return Unexpected(std::move(error));
  }
  if (!ended_) {
    out_.notes.add(note::missing_end, line_);
  }
  auto image = builder_.finish(out_.notes);
  if (!image) {
    return Unexpected(std::move(image).error());
  }
  out_.image = std::move(image).value();
  if (out_.image.empty()) {
    out_.notes.add(note::no_data, 0);
  }
  return std::move(out_);
}

Try<Firmware> read_srecord(ByteView text, std::string file, const SRecordReadOptions& options) {
  SRecordReader reader(std::move(file), options);
  reader.expect(text.size());
  if (auto fed = reader.feed(text); !fed) {
    return Unexpected(std::move(fed).error());
  }
  return reader.finish();
}

} // namespace cardseal::image
