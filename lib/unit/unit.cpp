#include "unit/unit.h"

#include "base/check_switch.h"
#include "base/checked.h"
#include "unit/check.h"
#include "unit/placed.h"

namespace cardseal::unit {
namespace {

using format::PartKind;

constexpr std::size_t max_width = 19; // digits; what a manifest allows

// A switched-off capacity check still has to end somewhere: the number then wraps.
Outcome past_end() {
  return switched_off(Fault::allotment_capacity) ? done : refuse(Fault::allotment_capacity);
}

// Scheme, parts and placement do not fit each other; switched off, what fits is used.
Outcome unfit() {
  return switched_off(Fault::manifest_placement) ? done : refuse(Fault::manifest_placement);
}

bool put(UnitText& text, std::string_view piece) {
  if (piece.size() > max_text - text.size) {
    return false;
  }
  for (const char c : piece) {
    text.bytes[text.size++] = c;
  }
  return true;
}

// False when the number has more digits than `out`.
bool spell(std::uint64_t number, std::string_view digits, std::uint8_t base, std::span<char> out) {
  std::size_t i = out.size();
  if (base == 10 && number <= 0xFFFF'FFFFU) { // nearly every serial; dividing by a constant is fast
    for (auto small = static_cast<std::uint32_t>(number); i-- > 0; small /= 10) {
      out[i] = digits[small % 10];
      number = small / 10;
    }
    return number == 0;
  }
  for (; i-- > 0; number /= base) {
    out[i] = digits[number % base];
  }
  return number == 0;
}

Outcome put_number(UnitText& text, const Serials& serials, const format::Part& part,
                   std::uint64_t number) {
  const std::string_view digits = format::digits_of(serials.alphabet);
  const std::size_t width = part.width.value;
  if (part.base.value < 2 || part.base.value > digits.size() || width > max_text - text.size) {
    return unfit();
  }
  const std::span<char> out = std::span(text.bytes).subspan(text.size, width);
  if (width == 0 || width > max_width || !spell(number, digits, part.base.value, out)) {
    return past_end();
  }
  text.size = static_cast<std::uint8_t>(text.size + width);
  return done;
}

Outcome put_date_code(UnitText& text, const Serials& serials, const format::Part& part) {
  const format::Allotment* allotment = serials.allotment;
  const bool good = allotment != nullptr && allotment->date_code.present &&
                    allotment->date_code.value.size == part.width.value;
  if (!good && !switched_off(Fault::allotment_date_code)) {
    return refuse(Fault::allotment_date_code);
  }
  return allotment == nullptr || put(text, allotment->date_code.value.view()) ? done : unfit();
}

Outcome put_class(UnitText& text, const Serials& serials, const format::Part& part) {
  if (serials.allotment == nullptr) {
    return refuse(Fault::allotment_class);
  }
  const auto at = static_cast<std::size_t>(serials.allotment->work_class);
  return put(text, slice(part.literal.value.view(), at, 1)) ? done : unfit();
}

Outcome put_check(UnitText& text, const format::Check& check, std::size_t covered_from) {
  std::array<char, 2> characters{};
  if (!check_characters(check.kind, slice(text.view(), covered_from), characters)) {
    return refuse(Fault::allotment_date_code); // all else was looked at with the manifest
  }
  return put(text, {characters.data(), format::check_length(check.kind)}) ? done : unfit();
}

Outcome put_part(UnitText& text, const Serials& serials, std::size_t at, std::uint64_t number) {
  const format::Part& part = serials.parts[at];
  switch (part.kind) {
  case PartKind::literal:
    return put(text, part.literal.value.view()) ? done : unfit();
  case PartKind::number:
    return put_number(text, serials, part, number);
  case PartKind::date_code:
    return put_date_code(text, serials, part);
  case PartKind::work_class:
    return put_class(text, serials, part);
  case PartKind::check:
    return put_check(text, part.check.value,
                     offset_of(serials.parts, part.check.value.from - std::size_t{1}));
  }
  return unfit();
}

// What of a range of excluded numbers stands on the grid first, first + step, ...
struct Gap {
  std::uint64_t from = 0; // in steps from the first number
  std::uint64_t count = 0;
};

Gap gap_of(const format::Scheme& scheme, const format::ExcludedRange& range) {
  if (range.last < scheme.first || scheme.step == 0) {
    return {};
  }
  const std::uint64_t from =
      range.first <= scheme.first ? 0 : divide_up(range.first - scheme.first, scheme.step);
  const std::uint64_t end = (range.last - scheme.first) / scheme.step + 1;
  return {from, end > from ? end - from : 0};
}

const format::Part* number_part(const Serials& serials, std::size_t& offset) {
  offset = 0;
  for (const format::Part& part : serials.parts) {
    if (part.kind == PartKind::number) {
      return &part;
    }
    offset += format::part_length(part);
  }
  return nullptr;
}

bool parse(std::string_view text, std::string_view digits, std::uint8_t base,
           std::uint64_t& number) {
  number = 0;
  for (const char c : text) {
    const std::size_t value = slice(digits, 0, base).find(c);
    const bool good = value != std::string_view::npos &&
                      multiply_to<std::uint64_t>(number, base, number) &&
                      add_to<std::uint64_t>(number, value, number);
    if (!good) {
      return false;
    }
  }
  return !text.empty();
}

bool printable(std::string_view text) {
  for (const char c : text) {
    if (c < ' ' || c > '~') {
      return false;
    }
  }
  return true;
}

// The ordinal of the number that stands in `text` where the scheme's number stands.
Outcome ordinal_within(const Serials& serials, std::string_view text, std::uint64_t& ordinal) {
  std::size_t offset = 0;
  const format::Part* part = number_part(serials, offset);
  std::uint64_t number = 0;
  const bool good = part != nullptr && part->width.value <= max_width &&
                    offset + part->width.value <= text.size() &&
                    parse(slice(text, offset, part->width.value),
                          format::digits_of(serials.alphabet), part->base.value, number);
  return good ? ordinal_of_number(serials, number, ordinal) : refuse(Fault::text_form);
}

// The date code and class that a text states.
bool read_allotment(const Serials& serials, std::string_view text, format::Allotment& allotment) {
  for (const format::Part& part : serials.parts) {
    const std::string_view piece = slice(text, 0, format::part_length(part));
    text = slice(text, piece.size());
    if (part.kind == PartKind::date_code) {
      allotment.date_code.present = allotment.date_code.value.set(piece) && printable(piece);
    } else if (part.kind == PartKind::work_class) {
      const std::size_t at =
          piece.empty() ? std::string_view::npos : part.literal.value.view().find(piece[0]);
      if (at >= format::work_class_words.size()) {
        return false;
      }
      allotment.work_class = static_cast<format::WorkClass>(at);
    }
  }
  return true;
}

std::size_t common(std::string_view a, std::string_view b) {
  std::size_t size = 0;
  while (size < a.size() && size < b.size() && a[size] == b[size]) {
    ++size;
  }
  return size;
}

} // namespace

Outcome number_of(const Serials& serials, std::uint64_t ordinal, std::uint64_t& number) {
  const format::Scheme& scheme = serials.scheme;
  std::uint64_t steps = ordinal;
  for (const format::ExcludedRange& range : serials.excluded) {
    const Gap gap = gap_of(scheme, range);
    if (gap.count != 0 && gap.from > steps) {
      break;
    }
    steps += gap.count; // the ranges lie apart: their sum is below 2^64
  }
  std::uint64_t offset = 0;
  std::uint64_t sum = 0;
  const bool good = ordinal < scheme.capacity && multiply_to(scheme.step, steps, offset) &&
                    add_to(scheme.first, offset, sum) && sum <= format::max_serial_number;
  if (!good) {
    number = scheme.first + scheme.step * steps;
    return past_end();
  }
  number = sum;
  return done;
}

Outcome text_of(const Serials& serials, std::uint64_t ordinal, UnitText& text) {
  text.size = 0;
  std::uint64_t number = 0;
  Outcome outcome = number_of(serials, ordinal, number);
  for (std::size_t at = 0; outcome.ok() && at < serials.parts.size(); ++at) {
    outcome = put_part(text, serials, at, number);
  }
  if (!outcome.ok()) {
    text = {};
  }
  return outcome;
}

Outcome bytes_of(const Serials& serials, const format::Placement& placement, std::uint64_t ordinal,
                 UnitBytes& bytes) {
  bytes = {};
  if (!format::placement_good(placement, serials.parts, serials.alphabet, serials.crc)) {
    return unfit();
  }
  Outcome outcome;
  const Frame frame = frame_of(placement, serials);
  const ByteSpan serial = ByteSpan(bytes.bytes).first(frame.serial);
  if (format::is_binary(placement.encoding)) {
    std::uint64_t number = 0;
    outcome = number_of(serials, ordinal, number);
    if (!store_number(number, placement.encoding, serial) && outcome.ok()) {
      outcome = past_end();
    }
  } else {
    UnitText text;
    outcome = text_of(serials, ordinal, text);
    if (outcome.ok()) {
      encode(placement, piece_of(text.view(), serials.parts, placement.parts.value), serial);
    }
  }
  if (!outcome.ok()) {
    bytes = {};
    return outcome;
  }
  complete(placement, serials, frame, bytes.bytes);
  bytes.size = placement.length;
  return done;
}

Outcome ordinal_of_number(const Serials& serials, std::uint64_t number, std::uint64_t& ordinal) {
  const format::Scheme& scheme = serials.scheme;
  if (number < scheme.first || scheme.step == 0 || (number - scheme.first) % scheme.step != 0) {
    return refuse(Fault::text_form);
  }
  std::uint64_t found = (number - scheme.first) / scheme.step;
  std::uint64_t left_out = 0;
  for (const format::ExcludedRange& range : serials.excluded) {
    if (range.first <= number && number <= range.last) {
      return refuse(Fault::text_form);
    }
    left_out += range.last < number ? gap_of(scheme, range).count : 0;
  }
  found -= left_out;
  if (found >= scheme.capacity) {
    return past_end();
  }
  ordinal = found;
  return done;
}

Outcome ordinal_of_text(const Serials& serials, std::string_view text, std::uint64_t& ordinal) {
  Serials with = serials;
  format::Allotment stated;
  if (serials.allotment == nullptr) {
    if (!read_allotment(serials, text, stated)) {
      return refuse(Fault::text_form);
    }
    with.allotment = &stated;
  }
  std::uint64_t found = 0;
  UnitText expected;
  Outcome outcome = ordinal_within(with, text, found);
  if (outcome.ok()) {
    outcome = text_of(with, found, expected);
  }
  if (outcome.ok() && expected.view() != text) {
    outcome = refuse(Fault::text_form, static_cast<std::uint32_t>(common(expected.view(), text)));
  }
  if (outcome.ok()) {
    ordinal = found;
  }
  return outcome;
}

Outcome ordinal_of_bytes(const Serials& serials, const format::Placement& placement, ByteView bytes,
                         std::uint64_t& ordinal) {
  if (!format::placement_good(placement, serials.parts, serials.alphabet, serials.crc)) {
    return unfit();
  }
  if (bytes.size() != placement.length) {
    return refuse(Fault::text_form);
  }
  UnitBytes serial;
  strip(placement, bytes, serial.bytes);
  const ByteView held = ByteView(serial.bytes).first(frame_of(placement, serials).serial);
  std::uint64_t found = 0;
  Outcome outcome;
  if (format::is_binary(placement.encoding)) {
    outcome = ordinal_of_number(serials, load_number(held, placement.encoding), found);
  } else {
    UnitText text; // with the parts before it left open
    text.size = static_cast<std::uint8_t>(
        offset_of(serials.parts, placement.parts.value.first - std::size_t{1}));
    const bool good = decode(placement, held, text);
    outcome = good ? ordinal_within(serials, text.view(), found) : refuse(Fault::text_form);
  }
  UnitBytes expected;
  if (outcome.ok()) {
    outcome = bytes_of(serials, placement, found, expected);
  }
  if (outcome.ok() && !equal(expected.view(), bytes)) {
    outcome = refuse(Fault::text_form);
  }
  if (outcome.ok()) {
    ordinal = found;
  }
  return outcome;
}

} // namespace cardseal::unit
