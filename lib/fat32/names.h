// File names on a FAT volume. Short names are 8.3 in upper case; long names are UTF-16 on the
// volume and UTF-8 here. Source: Microsoft FAT Specification (2005), sections 6.1 and 7.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "base/bytes.h"

namespace cardseal::fat32 {

using ShortName = std::array<std::uint8_t, 11>; // filled up with spaces

// "NAME.EXT" or "NAME": A-Z, 0-9 and !#$%&'()-@^_`{}~, 1 to 8 and 0 to 3 of them.
std::optional<ShortName> short_name_from(std::string_view text);
// 1 to 11 of the same characters, or spaces inside.
std::optional<ShortName> label_from(std::string_view text);
std::string text_from(const ShortName& name);  // "NAME.EXT"
std::string label_text(const ShortName& name); // without the spaces at its end

// False for text that is not UTF-8.
bool to_utf16(std::string_view text, std::u16string& out);
// UTF-8; a lone surrogate becomes U+FFFD.
std::string to_utf8(std::u16string_view units);

// Why a long name can't be written, or nothing when it can: 1 to 255 UTF-16 units, no controls,
// none of "*/:<>?\|, no space at its beginning, neither space nor dot at its end, not `.` or `..`.
std::optional<std::string> long_name_fault(std::string_view text);

// Names that a common desktop system keeps for devices, with any extension: CON, PRN, AUX, NUL,
// COM1 to COM9, LPT1 to LPT9. Source: Microsoft, "Naming Files, Paths, and Namespaces".
bool is_device_name(std::string_view text);

// A name without its case, for comparing: Latin, Greek and Cyrillic letters.
std::u16string folded(std::u16string_view name);
std::u16string folded(const ShortName& name);

// The short name made from a long one: number 0 is the plain shortened form, which is only there
// when nothing but case gets lost; number n puts ~n at the end of the base. At most 999999.
std::optional<ShortName> alias_of(std::string_view long_name, std::uint32_t number);

} // namespace cardseal::fat32
