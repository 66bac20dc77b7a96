#include "image/intel_hex.h"

#include <algorithm>

#include "image/hex_digits.h"
#include "image/record_text.h"
#include "image/spell.h"

namespace cardseal::image {
namespace {

// Sections of the specification: 4 (extended linear), 5 (extended segment), 6 (data), 7 and 8
// (start), 9 (end).
enum Type : std::uint8_t {
  type_data = 0,
  type_end = 1,
  type_segment_base = 2,
  type_segment_start = 3,
  type_linear_base = 4,
  type_linear_start = 5,
};

constexpr std::size_t frame_digits = 11; // everything of a record but its data, with the ':'
constexpr std::uint32_t last_offset = 0xFFFF;
constexpr std::uint64_t last_address_possible = 0xFFFFFFFF;

} // namespace

IntelHexReader::IntelHexReader(std::string file, const HexReadOptions& options)
    : options_(options), file_(builder_.add_file(std::move(file))) {}

// A byte of data takes more than two characters. Room that stays unused is never touched.
void IntelHexReader::expect(std::uint64_t characters) {
  builder_.reserve(characters / 2);
}

Error IntelHexReader::fault(const char* code, const char* what, std::uint32_t column) const {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = code;
  error.what = what;
  error.place = {builder_.file_name(file_), line_, column, {}};
  error.hint = get_again;
  return error;
}

// Usual lines one after the other: data records with nothing around them, each behind the one
// before, where nothing is to be noted or refused. Returns the characters taken with their line
// ends. Stops before anything else, also before every fault: take_line() looks again and names it.
std::size_t IntelHexReader::take_usual_lines(ByteView chunk) {
  if ((mode_ == Mode::segment ? linear_ : segment_).address != 0) {
    return 0;
  }
  const std::uint64_t base = mode_ == Mode::segment ? segment_.address : linear_.address;
  std::size_t at = 0;
  while (chunk.size() - at > frame_digits && chunk[at] == ':') {
    const std::uint8_t* const digits = &chunk[at + 1];
    const std::uint64_t head = decode_eight_digits(digits); // length, offset, type
    const std::size_t length = head >> 24;
    const auto offset = static_cast<std::uint32_t>(head >> 8) & 0xFFFFU;
    const std::size_t characters = frame_digits + 2 * length;
    if (head == not_eight_digits || length == 0 || (head & 0xFFU) != type_data ||
        offset + length > last_offset + 1U || base + offset < last_address_ ||
        chunk.size() - at <= characters || !is_line_end(chunk[at + characters])) {
      break;
    }
    std::uint8_t* const data = builder_.room(length + 1); // the checksum too
    std::uint8_t sum = 0;
    if (!decode_digits(digits + 8, length + 1, data, sum) ||
        static_cast<std::uint8_t>(sum_of_four_bytes(head) + sum) != 0) {
      break;
    }
    last_address_ = base + offset;
    builder_.add(last_address_, ByteView(data, length), file_, ++line_);
    skip_line_feed_ = chunk[at + characters] == '\r';
    at += characters + 1;
    if (skip_line_feed_ && at < chunk.size()) {
      skip_line_feed_ = false;
      at += chunk[at] == '\n' ? 1 : 0;
    }
  }
  return at;
}

Try<void> IntelHexReader::feed(ByteView chunk) {
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

Try<void> IntelHexReader::take_line(ByteView line) {
  ++line_;
  if (line.size() > longest_line) {
    Error error = fault("hex-line-long", "line is too long", 1);
    error.found = "more than " + spell_count(longest_line, "character");
    error.expected = "at most " + std::to_string(longest_line);
    return Unexpected(std::move(error));
  }
  const Trimmed trimmed = trim(line, line_ == 1);
  const ByteView text = trimmed.text;
  column_ = trimmed.column;
  if (trimmed.mark) {
    out_.notes.add(note::byte_order_mark, line_);
  }
  if (text.empty()) {
    out_.notes.add(note::blank_line, line_);
    return {};
  }
  if (ended_) {
    return take_text_after_end(line, column_);
  }
  if (text[0] != ':' && options_.allow_comments && is_comment(text)) {
    out_.notes.add(note::comment_line, line_);
    return {};
  }
  if (trimmed.spaces) {
    out_.notes.add(note::space_around_record, line_);
  }
  return take_record(text);
}

// Readers drop everything here without a word; whoever approves the firmware should see it.
Try<void> IntelHexReader::take_text_after_end(ByteView line, std::uint32_t column) {
  Error error = fault("hex-after-end", "something other than text follows the end record", column);
  error.expected = "nothing, or lines of text";
  error.hint = "two files may have been joined; keep the one that was approved";
  if (line[column - 1] == ':') {
    error.found = excerpt(line.subspan(column - 1));
    return Unexpected(std::move(error));
  }
  if (const std::size_t end = text_end(line); end != line.size()) {
    error.place.column = static_cast<std::uint32_t>(end + 1);
    error.found = spell_character(line[end]);
    return Unexpected(std::move(error));
  }
  out_.notes.add(note::text_after_end, line_, excerpt(line));
  if (out_.text_after_end.size() < text_lines_kept) {
    out_.text_after_end.push_back({line_, std::string(text_of(line))});
  }
  return {};
}

// Fills record_ from the line's text, spaces around it taken off.
Try<void> IntelHexReader::decode(ByteView text) {
  const auto column_at = [&](std::size_t index) {
    return column_ + static_cast<std::uint32_t>(index);
  };
  std::size_t wanted = frame_digits;
  for (std::size_t index = 1; index < std::min(text.size(), wanted); ++index) {
    if (!is_hex_digit(text[index])) {
      Error error =
          fault("hex-digit", "record holds something other than hex digits", column_at(index));
      error.found = spell_character(text[index]);
      error.expected = "a digit, 0 to 9 or A to F";
      return Unexpected(std::move(error));
    }
    if (index == 2) {
      std::uint8_t sum = 0;
      std::uint8_t length = 0;
      decode_digits(&text[1], 1, &length, sum);
      wanted += 2 * std::size_t{length};
    }
  }
  if (text.size() != wanted) {
    const bool is_short = text.size() < wanted;
    Error error = is_short
                      ? fault("hex-short", "record ends early", column_at(text.size()))
                      : fault("hex-long", "record goes on after its checksum", column_at(wanted));
    error.found = is_short ? spell_count(text.size(), "character") : excerpt(text.subspan(wanted));
    error.expected = is_short ? spell_count(wanted, "character") : "the end of the line";
    return Unexpected(std::move(error));
  }
  std::uint8_t sum = 0;
  decode_digits(&text[1], (wanted - 1) / 2, record_.bytes.data(), sum);
  record_.length = record_.bytes[0];
  record_.offset = load_be16(&record_.bytes[1]);
  record_.type = record_.bytes[3];
  if (sum != 0) {
    const std::uint8_t found = record_.bytes[4U + record_.length];
    Error error = fault("hex-checksum", "record checksum does not match", column_at(wanted - 2));
    error.found = spell_byte(found);
    error.expected = spell_byte(static_cast<std::uint8_t>(found - sum));
    error.hint = get_again;
    error.hint += "; do not correct the checksum by hand";
    return Unexpected(std::move(error));
  }
  return {};
}

Try<void> IntelHexReader::take_record(ByteView text) {
  if (text[0] != ':') {
    Error error = fault("hex-line-start", "line is not a record", column_);
    error.found = spell_character(text[0]);
    error.expected = "':'";
    if (is_comment(text)) {
      error.hint = "an option allows comment lines";
    }
    return Unexpected(std::move(error));
  }
  if (auto done = decode(text); !done) {
    return done;
  }
  return record_.type == type_data ? take_data() : take_other_record();
}

Try<void> IntelHexReader::take_other_record() {
  if (record_.type > type_linear_start) {
    Error error = fault("hex-type", "record type is unknown", column_ + 7);
    error.found = spell_byte(record_.type);
    error.expected = "0x00 to 0x05";
    return Unexpected(std::move(error));
  }
  constexpr std::array<std::uint8_t, 6> lengths{0, 0, 2, 4, 2, 4};
  if (record_.length != lengths[record_.type]) {
    Error error = fault("hex-length", "record type has another length", column_ + 1);
    error.found = spell_count(record_.length, "data byte");
    error.expected =
        std::to_string(lengths[record_.type]) + " in a record of type " + spell_byte(record_.type);
    return Unexpected(std::move(error));
  }
  if (record_.type != type_end && record_.offset != 0) {
    Error error = fault("hex-offset", "record type takes no address offset", column_ + 3);
    error.found = spell_address(record_.offset);
    error.expected = "0x0 in a record of type " + spell_byte(record_.type);
    return Unexpected(std::move(error));
  }
  const std::uint8_t* data = record_.bytes.data() + 4;
  switch (record_.type) {
  case type_segment_base:
    return take_base(segment_, Mode::segment, 4);
  case type_linear_base:
    return take_base(linear_, Mode::linear, 16);
  case type_segment_start:
    return take_start(StartKind::segmented, load_be32(data));
  case type_linear_start:
    return take_start(StartKind::linear, load_be32(data));
  default:
    return take_end();
  }
}

Try<void> IntelHexReader::take_base(Base& base, Mode mode, unsigned shift) {
  base = {static_cast<std::uint32_t>(load_be16(&record_.bytes[4])) << shift, line_, column_ + 9};
  mode_ = mode;
  return {};
}

Try<void> IntelHexReader::take_start(StartKind kind, std::uint32_t value) {
  if (!out_.start) {
    out_.start = StartAddress{kind, value, line_};
    return {};
  }
  if (out_.start->kind == kind && out_.start->value == value) {
    out_.notes.add(note::same_start, line_, spell_address(value));
    return {};
  }
  const auto spell = [](StartKind which, std::uint64_t start) {
    return spell_address(start) + " (" + std::string(word_of(which)) + ")";
  };
  Error error = fault("hex-two-starts", "start address is given twice and differs", column_ + 9);
  error.found = spell(kind, value);
  error.expected = spell(out_.start->kind, out_.start->value) + " as on line " +
                   std::to_string(out_.start->line);
  error.hint = "two files may have been joined; link or merge them with one start address";
  return Unexpected(std::move(error));
}

Try<void> IntelHexReader::take_end() {
  ended_ = true;
  if (record_.offset != 0) {
    out_.notes.add(note::end_address, line_, spell_address(record_.offset));
    if (!out_.start) {
      out_.start = StartAddress{StartKind::end_record, record_.offset, line_};
    }
  }
  return {};
}

// Some readers add the two bases, some let the later record replace the earlier one. They agree as
// long as the other base is zero.
Try<void> IntelHexReader::check_bases() const {
  const bool by_segment = mode_ == Mode::segment;
  const Base& used = by_segment ? segment_ : linear_;
  const Base& other = by_segment ? linear_ : segment_;
  if (mode_ == Mode::none || other.address == 0) {
    return {};
  }
  Error error = fault("hex-two-bases", "segment base and linear base are both in force", 0);
  error.place.line = used.line;
  error.place.column = used.column;
  error.found = std::string(by_segment ? "segment" : "linear") + " base " +
                spell_address(used.address) + " after " + (by_segment ? "linear" : "segment") +
                " base " + spell_address(other.address) + " on line " + std::to_string(other.line);
  error.expected = "records of type 0x02 or 0x04, not both";
  error.hint = "readers differ on the address; write the file again with one kind of base record";
  return Unexpected(std::move(error));
}

Try<void> IntelHexReader::take_data() {
  if (record_.length == 0) {
    out_.notes.add(note::empty_record, line_);
    return {};
  }
  if (auto agreed = check_bases(); !agreed) {
    return agreed;
  }
  const std::uint64_t base = mode_ == Mode::segment ? segment_.address : linear_.address;
  const std::uint64_t address = base + record_.offset;
  const std::uint64_t last = address + record_.length - 1;
  ByteView data = record_.data();
  const std::uint32_t in_64k =
      std::min<std::uint32_t>(record_.length, last_offset + 1U - record_.offset);
  if (in_64k != data.size() && mode_ == Mode::none) {
    Error error = fault("hex-past-64k", "data runs past 0xFFFF without a base record", column_ + 3);
    error.found = "last byte at " + spell_address(last);
    error.expected = "0xFFFF at most";
    error.hint = "readers differ on the address; write the file again with records of type 0x04";
    return Unexpected(std::move(error));
  }
  if (last > last_address_possible) {
    Error error = fault("hex-past-4g", "data runs past the last address", column_ + 3);
    error.found = "last byte at " + spell_address(last);
    error.expected = "0xFFFFFFFF at most";
    return Unexpected(std::move(error));
  }
  if (address < last_address_) {
    out_.notes.add(note::out_of_order, line_, spell_address(address));
  }
  last_address_ = address;
  if (in_64k != data.size() && mode_ == Mode::segment) {
    out_.notes.add(note::segment_wrap, line_, spell_address(base));
    builder_.add(base, data.subspan(in_64k), file_, line_);
    data = data.first(in_64k);
  }
  builder_.add(address, data, file_, line_);
  return {};
}

Try<Firmware> IntelHexReader::finish() {
  if (!any_byte_) {
    line_ = 1;
    Error error = fault("hex-empty", "file is empty", 1);
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
    Error error = fault("hex-no-end", "there is no end record",
                        static_cast<std::uint32_t>(carry_.size() + 1));
    error.found = "the end of the file";
    error.expected = "a record of type 0x01";
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

Try<Firmware> read_intel_hex(ByteView text, std::string file, const HexReadOptions& options) {
  IntelHexReader reader(std::move(file), options);
  reader.expect(text.size());
  if (auto fed = reader.feed(text); !fed) {
    return Unexpected(std::move(fed).error());
  }
  return reader.finish();
}

} // namespace cardseal::image
