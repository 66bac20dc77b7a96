#include "fat32/names.h"

#include <algorithm>

#include "base/utf8.h"
#include "format/fat32_layout.h"

namespace cardseal::fat32 {
namespace {

constexpr std::size_t base_length = 8;
constexpr std::size_t extension_length = 3;

bool is_short_char(char c) {
  return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
         (c != '\0' && std::string_view("!#$%&'()-@^_`{}~").find(c) != std::string_view::npos);
}

char ascii_upper(char c) {
  return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
}

ShortName joined(std::string_view base, std::string_view extension) {
  ShortName name;
  name.fill(' ');
  std::copy(base.begin(), base.end(), name.begin());
  std::copy(extension.begin(), extension.end(), name.begin() + base_length);
  return name;
}

struct Range {
  char16_t first;
  char16_t last;
};
// Where capital and small letter are neighbours, the capital even or odd; and where the small
// letter stands a fixed distance above its capital (Unicode character database, from memory).
constexpr Range even_pairs[] = {{0x0100, 0x0137}, {0x014A, 0x0177}, {0x01DE, 0x01EF},
                                {0x01F8, 0x0233}, {0x0460, 0x0481}, {0x048A, 0x04BF},
                                {0x04D0, 0x052F}, {0x1E00, 0x1EFF}};
constexpr Range odd_pairs[] = {
    {0x0139, 0x0148}, {0x0179, 0x017E}, {0x01CD, 0x01DC}, {0x04C1, 0x04CE}};
struct Shift {
  Range small;
  char16_t distance;
};
constexpr Shift shifts[] = {
    {{u'a', u'z'}, 0x20},     {{0x00E0, 0x00F6}, 0x20}, {{0x00F8, 0x00FE}, 0x20},
    {{0x03AC, 0x03AC}, 0x26}, {{0x03AD, 0x03AF}, 0x25}, {{0x03B1, 0x03C1}, 0x20},
    {{0x03C2, 0x03C2}, 0x1F}, {{0x03C3, 0x03CB}, 0x20}, {{0x03CC, 0x03CC}, 0x40},
    {{0x03CD, 0x03CE}, 0x3F}, {{0x0430, 0x044F}, 0x20}, {{0x0450, 0x045F}, 0x50},
    {{0xFF41, 0xFF5A}, 0x20}};

template <std::size_t Count>
bool is_in(const Range (&ranges)[Count], char16_t unit) {
  return std::any_of(std::begin(ranges), std::end(ranges), [unit](const Range& range) {
    return unit >= range.first && unit <= range.last;
  });
}

char16_t folded_unit(char16_t unit) {
  for (const Shift& shift : shifts) {
    if (unit >= shift.small.first && unit <= shift.small.last) {
      return static_cast<char16_t>(unit - shift.distance);
    }
  }
  if (unit == 0x00FF) {
    return 0x0178;
  }
  if (is_in(even_pairs, unit)) {
    return static_cast<char16_t>(unit | 1);
  }
  return is_in(odd_pairs, unit) ? static_cast<char16_t>(((unit - 1) | 1) + 1) : unit;
}

struct Shortened {
  std::string text;
  bool lossy = false;
};

Shortened shortened(std::string_view part, std::size_t most) {
  Shortened out;
  for (std::size_t at = 0; at < part.size();) {
    const std::size_t length = next_utf8(slice(part, at)).length;
    const char upper = ascii_upper(part[at]);
    const bool dropped = upper == ' ' || upper == '.';
    const bool kept = length == 1 && is_short_char(upper);
    out.lossy = out.lossy || !kept;
    if (!dropped) {
      out.text += kept ? upper : '_';
    }
    at += std::max<std::size_t>(length, 1);
  }
  out.lossy = out.lossy || out.text.size() > most;
  out.text.resize(std::min(out.text.size(), most));
  return out;
}

} // namespace

std::optional<ShortName> short_name_from(std::string_view text) {
  const std::size_t dot = text.find('.');
  const std::string_view base = slice(text, 0, dot);
  const std::string_view extension =
      dot == std::string_view::npos ? std::string_view{} : slice(text, dot + 1);
  const bool fits = !base.empty() && base.size() <= base_length &&
                    extension.size() <= extension_length &&
                    (dot == std::string_view::npos || !extension.empty());
  if (!fits || !std::all_of(base.begin(), base.end(), is_short_char) ||
      !std::all_of(extension.begin(), extension.end(), is_short_char)) {
    return std::nullopt;
  }
  return joined(base, extension);
}

std::optional<ShortName> label_from(std::string_view text) {
  const auto fits = [](char c) { return c == ' ' || is_short_char(c); };
  if (text.empty() || text.size() > std::tuple_size_v<ShortName> || text.front() == ' ' ||
      text.back() == ' ' || !std::all_of(text.begin(), text.end(), fits)) {
    return std::nullopt;
  }
  ShortName name;
  name.fill(' ');
  std::copy(text.begin(), text.end(), name.begin());
  return name;
}

std::string label_text(const ShortName& name) {
  std::string text(name.begin(), name.end());
  text.resize(text.find_last_not_of(' ') + 1);
  return text;
}

std::string text_from(const ShortName& name) {
  std::string base(name.begin(), name.begin() + base_length);
  std::string extension(name.begin() + base_length, name.end());
  base.resize(base.find_last_not_of(' ') + 1);
  extension.resize(extension.find_last_not_of(' ') + 1);
  return extension.empty() ? base : base + "." + extension;
}

bool to_utf16(std::string_view text, std::u16string& out) {
  out.clear();
  while (!text.empty()) {
    const Utf8Char c = next_utf8(text);
    if (c.length == 0) {
      return false;
    }
    if (c.code < 0x10000) {
      out += static_cast<char16_t>(c.code);
    } else {
      out += static_cast<char16_t>(0xD800 + ((c.code - 0x10000) >> 10));
      out += static_cast<char16_t>(0xDC00 + ((c.code - 0x10000) & 0x3FF));
    }
    text = slice(text, c.length);
  }
  return true;
}

namespace {

void append_utf8(std::string& out, char32_t code) {
  const auto add = [&out](char32_t byte) { out += static_cast<char>(byte); };
  if (code < 0x80) {
    add(code);
  } else if (code < 0x800) {
    add(0xC0 | (code >> 6));
    add(0x80 | (code & 0x3F));
  } else if (code < 0x10000) {
    add(0xE0 | (code >> 12));
    add(0x80 | ((code >> 6) & 0x3F));
    add(0x80 | (code & 0x3F));
  } else {
    add(0xF0 | (code >> 18));
    add(0x80 | ((code >> 12) & 0x3F));
    add(0x80 | ((code >> 6) & 0x3F));
    add(0x80 | (code & 0x3F));
  }
}

} // namespace

std::string to_utf8(std::u16string_view units) {
  std::string out;
  for (std::size_t at = 0; at < units.size(); ++at) {
    const char32_t unit = units[at];
    const char32_t next = at + 1 < units.size() ? units[at + 1] : 0;
    if (unit < 0xD800 || unit > 0xDFFF) {
      append_utf8(out, unit);
    } else if (unit < 0xDC00 && next >= 0xDC00 && next <= 0xDFFF) {
      append_utf8(out, 0x10000 + ((unit - 0xD800) << 10) + (next - 0xDC00));
      ++at;
    } else {
      append_utf8(out, 0xFFFD);
    }
  }
  return out;
}

std::optional<std::string> long_name_fault(std::string_view text) {
  std::u16string units;
  if (!to_utf16(text, units)) {
    return "is not well-formed UTF-8";
  }
  if (units.empty() || units.size() > format::fat::long_entry::max_units) {
    return "has " + std::to_string(units.size()) + " UTF-16 units, not 1 to 255";
  }
  for (const char16_t unit : units) {
    if (unit < 0x20 || (unit < 0x80 && std::u16string_view(u"\"*/:<>?\\|\x7F").find(unit) !=
                                           std::u16string_view::npos)) {
      return "has a control or one of \"*/:<>?\\|";
    }
  }
  if (units.front() == u' ' || units.back() == u' ' || units.back() == u'.') {
    return "begins with a space or ends with a space or dot";
  }
  return std::nullopt;
}

bool is_device_name(std::string_view text) {
  std::string base(slice(text, 0, text.find('.')));
  std::transform(base.begin(), base.end(), base.begin(), ascii_upper);
  if (base == "CON" || base == "PRN" || base == "AUX" || base == "NUL") {
    return true;
  }
  const std::string_view port = slice(base, 0, 3);
  return base.size() == 4 && (port == "COM" || port == "LPT") && base[3] >= '1' && base[3] <= '9';
}

std::u16string folded(std::u16string_view name) {
  std::u16string out(name);
  std::transform(out.begin(), out.end(), out.begin(), folded_unit);
  return out;
}

std::u16string folded(const ShortName& name) {
  std::u16string out;
  for (const char c : text_from(name)) {
    out += folded_unit(static_cast<unsigned char>(c));
  }
  return out;
}

std::optional<ShortName> alias_of(std::string_view long_name, std::uint32_t number) {
  const std::size_t lead = long_name.find_first_not_of('.');
  const std::string_view bare = slice(long_name, lead);
  const std::size_t dot = bare.rfind('.');
  const Shortened base = shortened(slice(bare, 0, dot), base_length);
  const Shortened extension = shortened(
      dot == std::string_view::npos ? std::string_view{} : slice(bare, dot + 1), extension_length);
  if (number == 0) {
    const bool plain = lead == 0 && !base.lossy && !extension.lossy && !base.text.empty();
    return plain ? std::optional(joined(base.text, extension.text)) : std::nullopt;
  }
  if (number > 999999) {
    return std::nullopt;
  }
  std::string tail = "~";
  tail += std::to_string(number);
  const std::string root = base.text.empty() ? "_" : base.text;
  return joined(root.substr(0, base_length - tail.size()) + tail, extension.text);
}

} // namespace cardseal::fat32
