#include "format/serial_scheme.h"

#include "base/crc.h"

namespace cardseal::format {
namespace {

constexpr std::size_t classes = 5; // of work, each with a character in a class part

bool all_of(std::string_view text, bool (*takes)(CheckKind, char), CheckKind kind) {
  for (const char c : text) {
    if (!takes(kind, c)) {
      return false;
    }
  }
  return true;
}

bool hex_digit(CheckKind, char c) {
  return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'F');
}

bool distinct(std::string_view text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      if (text[i] == text[j]) {
        return false;
      }
    }
  }
  return true;
}

// Which of literal, base, width and check a part has.
bool fields_good(const Part& part) {
  const bool number = part.kind == PartKind::number;
  const bool text = part.kind == PartKind::literal || part.kind == PartKind::work_class;
  return part.literal.present == text && part.base.present == number &&
         part.width.present == (number || part.kind == PartKind::date_code) &&
         part.check.present == (part.kind == PartKind::check);
}

bool check_good(std::span<const Part> parts, std::size_t at, std::string_view digits) {
  const Check& check = parts[at].check.value;
  if (check.from > at) { // counted from 1: the check itself or a later part
    return false;
  }
  for (std::size_t i = check.from - 1U; i < at; ++i) {
    if (parts[i].kind == PartKind::check || !part_gives(parts[i], digits, covers, check.kind)) {
      return false;
    }
  }
  return true;
}

} // namespace

std::size_t part_length(const Part& part) {
  switch (part.kind) {
  case PartKind::literal:
    return part.literal.value.size;
  case PartKind::number:
  case PartKind::date_code:
    return part.width.value;
  case PartKind::work_class:
    return 1;
  case PartKind::check:
    return check_length(part.check.value.kind);
  }
  return 0;
}

std::size_t text_length(std::span<const Part> parts, PartSpan span) {
  std::size_t length = 0;
  for (std::size_t i = span.first; i <= span.last && i <= parts.size(); ++i) {
    length += part_length(parts[i - 1]);
  }
  return length;
}

bool part_gives(const Part& part, std::string_view digits, bool (*takes)(CheckKind, char),
                CheckKind kind) {
  switch (part.kind) {
  case PartKind::literal:
  case PartKind::work_class:
    return all_of(part.literal.value.view(), takes, kind);
  case PartKind::number:
    return all_of(slice(digits, 0, part.base.value), takes, kind);
  case PartKind::date_code:
    return true;
  case PartKind::check:
    return (part.check.value.kind != CheckKind::mod_11_2 || takes(kind, 'X')) &&
           (part.check.value.kind != CheckKind::mod_37_2 || takes(kind, '*')) &&
           (!covers(part.check.value.kind, 'Z') || takes(kind, 'Z')) && takes(kind, '9');
  }
  return false;
}

bool excluded_good(std::span<const ExcludedRange> excluded) {
  for (std::size_t i = 1; i < excluded.size(); ++i) {
    if (excluded[i].first <= excluded[i - 1].last ||
        excluded[i].first - excluded[i - 1].last == 1) {
      return false;
    }
  }
  return true;
}

std::size_t crc_size(const Maybe<SerialCrc>& crc) {
  CrcModel model{};
  return crc.present && parse_crc(crc.value.model.view(), model) ? model.width / 8 : 0;
}

bool alphabet_good(const Maybe<Alphabet>& alphabet) {
  const std::string_view text = alphabet.value.view();
  return !alphabet.present ||
         (text.size() >= 2 && distinct(text) && text != slice(standard_digits, 0, text.size()));
}

bool part_good(std::span<const Part> parts, std::size_t at, const Maybe<Alphabet>& alphabet) {
  const Part& part = parts[at];
  if (part.index != at + 1 || !fields_good(part)) {
    return false;
  }
  switch (part.kind) {
  case PartKind::literal:
    return true;
  case PartKind::number:
    return !alphabet.present || part.base.value == alphabet.value.size;
  case PartKind::date_code:
    return part.width.value <= 16;
  case PartKind::work_class:
    return part.literal.value.size == classes && distinct(part.literal.value.view());
  case PartKind::check:
    return check_good(parts, at, digits_of(alphabet));
  }
  return false;
}

std::size_t encoded_length(Encoding encoding, std::size_t characters) {
  switch (encoding) {
  case Encoding::ascii:
    return characters;
  case Encoding::utf_16le:
    return 2 * characters;
  case Encoding::packed_be:
  case Encoding::packed_le:
    return characters % 2 == 0 ? characters / 2 : 0;
  case Encoding::binary_be:
  case Encoding::binary_le:
    return 0;
  }
  return 0;
}

bool placement_good(const Placement& placement, std::span<const Part> parts,
                    const Maybe<Alphabet>& alphabet, const Maybe<SerialCrc>& crc) {
  std::size_t room = placement.length;
  if (placement.second_byte.present) {
    if (room % 2 != 0) {
      return false;
    }
    room /= 2;
  }
  if (is_yes(placement.crc)) {
    const std::size_t size = crc_size(crc);
    if (size == 0 || size >= room) {
      return false;
    }
    room -= size;
  }
  if (is_binary(placement.encoding)) {
    return room <= 8 && !placement.padding.present;
  }
  const PartSpan span = placement.parts.value;
  if (span.last > parts.size()) {
    return false;
  }
  const bool packed =
      placement.encoding == Encoding::packed_be || placement.encoding == Encoding::packed_le;
  for (std::size_t i = span.first; packed && i <= span.last; ++i) {
    const Part& part = parts[i - 1];
    if (part.kind == PartKind::date_code ||
        !part_gives(part, digits_of(alphabet), hex_digit, CheckKind::luhn)) {
      return false;
    }
  }
  const std::size_t length = encoded_length(placement.encoding, text_length(parts, span));
  return length != 0 && (placement.padding.present ? length < room : length == room);
}

bool date_code_good(std::span<const Part> parts, const Maybe<Text<16>>& date_code) {
  for (const Part& part : parts) {
    if (part.kind == PartKind::date_code &&
        (!date_code.present || date_code.value.size != part.width.value)) {
      return false;
    }
  }
  for (std::size_t at = 0; at < parts.size(); ++at) {
    for (std::size_t i = parts[at].check.present ? parts[at].check.value.from : at + 1; i <= at;
         ++i) {
      if (parts[i - 1].kind == PartKind::date_code &&
          !all_of(date_code.value.view(), covers, parts[at].check.value.kind)) {
        return false;
      }
    }
  }
  return true;
}

} // namespace cardseal::format
