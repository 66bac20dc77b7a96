#include "unit/unit.h"

#include "base/check_switch.h"
#include "base/checked.h"

namespace cardseal::unit {
namespace {

using format::Encoding;
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

// False when the number has more digits than `width`.
bool spell_padded(std::uint64_t number, std::size_t width, std::span<char> out) {
  for (std::size_t i = width; i-- > 0; number /= 10) {
    out[i] = static_cast<char>('0' + number % 10);
  }
  return number == 0;
}

Outcome put_number(UnitText& text, std::uint64_t number, std::size_t width) {
  std::array<char, 20> digits{};
  if (width == 0 || width > max_width || !spell_padded(number, width, digits)) {
    return past_end();
  }
  return put(text, {digits.data(), width}) ? done : unfit();
}

bool parse_padded(std::string_view text, std::uint64_t& number) {
  number = 0;
  for (const char c : text) {
    if (c < '0' || c > '9') {
      return false;
    }
    number = number * 10 + static_cast<std::uint64_t>(c - '0'); // at most 19 digits: fits
  }
  return !text.empty();
}

// One part in front of `rest`. `number` is set by the first number part and repeated by others.
bool take_part(const format::Part& part, std::string_view& rest, bool& known,
               std::uint64_t& number) {
  const bool literal = part.kind == PartKind::literal;
  const std::size_t length = literal ? part.literal.value.size : part.width.value;
  const std::string_view piece = slice(rest, 0, length);
  if (piece.size() != length) {
    return false;
  }
  rest = slice(rest, length);
  if (literal) {
    return piece == part.literal.value.view();
  }
  std::uint64_t found = 0;
  const bool good =
      length <= max_width && parse_padded(piece, found) && (!known || found == number);
  known = true;
  number = found;
  return good;
}

bool store_number(std::uint64_t number, Encoding encoding, ByteSpan out) {
  for (std::size_t i = 0; i < out.size(); ++i, number >>= 8) {
    const std::size_t at = encoding == Encoding::binary_le ? i : out.size() - 1 - i;
    out[at] = static_cast<std::uint8_t>(number);
  }
  return number == 0;
}

std::uint64_t load_number(ByteView bytes, Encoding encoding) {
  std::uint64_t number = 0;
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    const std::size_t at = encoding == Encoding::binary_le ? bytes.size() - 1 - i : i;
    number = (number << 8) | bytes[at];
  }
  return number;
}

bool usable(const format::Placement& placement) {
  const std::size_t most = placement.encoding == Encoding::ascii ? 64 : 8;
  return placement.length >= 1 && placement.length <= most;
}

} // namespace

Outcome number_of(const format::Scheme& scheme, std::uint64_t ordinal, std::uint64_t& number) {
  std::uint64_t offset = 0;
  std::uint64_t sum = 0;
  const bool good = ordinal < scheme.capacity && multiply_to(scheme.step, ordinal, offset) &&
                    add_to(scheme.first, offset, sum) && sum <= format::max_serial_number;
  if (!good) {
    number = scheme.first + scheme.step * ordinal;
    return past_end();
  }
  number = sum;
  return done;
}

Outcome text_of(const Serials& serials, std::uint64_t ordinal, UnitText& text) {
  text = {};
  std::uint64_t number = 0;
  Outcome outcome = number_of(serials.scheme, ordinal, number);
  for (const format::Part& part : serials.parts) {
    if (!outcome.ok()) {
      break;
    }
    if (part.kind == PartKind::number) {
      outcome = put_number(text, number, part.width.value);
    } else if (!put(text, part.literal.value.view())) {
      outcome = unfit();
    }
  }
  if (!outcome.ok()) {
    text = {};
  }
  return outcome;
}

Outcome bytes_of(const Serials& serials, const format::Placement& placement, std::uint64_t ordinal,
                 UnitBytes& bytes) {
  bytes = {};
  if (!usable(placement)) {
    return unfit();
  }
  const ByteSpan out = ByteSpan(bytes.bytes).first(placement.length);
  Outcome outcome;
  if (placement.encoding == Encoding::ascii) {
    UnitText text;
    outcome = text_of(serials, ordinal, text);
    if (outcome.ok() && text.size != placement.length) {
      outcome = unfit();
    }
    copy(out, cardseal::bytes_of(text.view()));
  } else {
    std::uint64_t number = 0;
    outcome = number_of(serials.scheme, ordinal, number);
    if (!store_number(number, placement.encoding, out) && outcome.ok()) {
      outcome = past_end();
    }
  }
  if (!outcome.ok()) {
    bytes = {};
    return outcome;
  }
  bytes.size = placement.length;
  return done;
}

Outcome ordinal_of_number(const format::Scheme& scheme, std::uint64_t number,
                          std::uint64_t& ordinal) {
  if (number < scheme.first || scheme.step == 0 || (number - scheme.first) % scheme.step != 0) {
    return refuse(Fault::text_form);
  }
  const std::uint64_t found = (number - scheme.first) / scheme.step;
  if (found >= scheme.capacity) {
    return past_end();
  }
  ordinal = found;
  return done;
}

Outcome ordinal_of_text(const Serials& serials, std::string_view text, std::uint64_t& ordinal) {
  std::string_view rest = text;
  bool known = false;
  std::uint64_t number = 0;
  for (const format::Part& part : serials.parts) {
    if (!take_part(part, rest, known, number)) {
      return refuse(Fault::text_form, static_cast<std::uint32_t>(text.size() - rest.size()));
    }
  }
  if (!known || !rest.empty()) {
    return refuse(Fault::text_form, static_cast<std::uint32_t>(text.size() - rest.size()));
  }
  return ordinal_of_number(serials.scheme, number, ordinal);
}

Outcome ordinal_of_bytes(const Serials& serials, const format::Placement& placement, ByteView bytes,
                         std::uint64_t& ordinal) {
  if (!usable(placement)) {
    return unfit();
  }
  if (bytes.size() != placement.length) {
    return refuse(Fault::text_form);
  }
  return placement.encoding == Encoding::ascii
             ? ordinal_of_text(serials, cardseal::text_of(bytes), ordinal)
             : ordinal_of_number(serials.scheme, load_number(bytes, placement.encoding), ordinal);
}

} // namespace cardseal::unit
