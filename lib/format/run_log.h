// The run log of a card: one text record a sector, so that a power cut spoils at most one of them.
// Written by stations into the extent that the signed card index names, read back at the desk;
// nothing on a station is ever decided by reading it. Layout and a worked example: SPEC-station.md.
//
// A sector is 512 bytes: comma-separated fields, filled with spaces, a line feed last. A field is
// up to 24 of A-Z 0-9 . : -, the first a letter or digit; fields marked `may be empty` may be.
#pragma once

#include "base/outcome.h"
#include "format/card_texts.h"

namespace cardseal::format {

inline constexpr std::size_t log_sector = 512; // bytes
using LogSector = std::span<std::uint8_t, log_sector>;
using LogSectorView = std::span<const std::uint8_t, log_sector>;
using LogWord = Text<24>;

// Of a board in a cycle; each is a record at its begin and one at its end.
inline constexpr std::uint8_t log_tries = 3;
inline constexpr std::uint32_t log_records_a_unit = 2U * log_tries;

// The two outcomes that mean the same on every station; any other word says what went wrong.
inline constexpr std::string_view log_begun = "BEGUN"; // written before the first byte of the unit
inline constexpr std::string_view log_good = "GOOD";

struct LogRecord {
  LogWord station; // its id in capitals
  std::uint32_t enrolment = 1;
  std::uint32_t session = 1;    // card insertions, counted by the station
  std::uint32_t cycle = 1;      // within the session
  std::uint8_t slot = 1;        // 1 to 32
  Maybe<std::uint64_t> ordinal; // may be empty: the release has no serials
  LogWord outcome;              // BEGUN, GOOD, or a code of what went wrong, e.g. VERIFY
  std::uint8_t tries = 1;       // of this board in this cycle
  std::uint16_t supply_mv = 0;  // as measured
  std::uint32_t duration_ms = 0;
  LogWord date, shift, fixture, reel, panel; // as keyed in or set on the station; may be empty
  // First 8 bytes, big-endian, of SHA-256 over the chain of the station's record before this one on
  // this card (8 bytes, zero for its first) and this record's bytes before `chain`. It shows
  // accidents; it has no key.
  std::uint64_t chain = 0;
};

struct LogHeader {
  CardId card{};
  std::uint32_t record_sectors = 0; // that follow the header
};

// False, and `out` untouched, when a field is outside its form or range.
bool render_log_record(const LogRecord& record, LogSector out);
void render_log_header(const LogHeader& header, LogSector out);
void render_log_blank(LogSector out); // a sector that no record was written to yet

enum class LogSectorKind : std::uint8_t { header, record, blank, other };

// `other` is what was torn, or written by somebody else.
LogSectorKind log_sector_kind(LogSectorView sector);

// Strict: what is taken is exactly what the renderers make. 103: not 511 bytes of record and fill
// before a line feed; 105: too few or too many fields; 106: a field's form, or the CRC, at the byte
// that `position` names; 107: a number's range.
Outcome parse_log_record(LogSectorView sector, LogRecord& out);
Outcome parse_log_header(LogSectorView sector, LogHeader& out);

// What a record's CRC and chain cover: its bytes up to and with the comma before `chain` or `crc`.
ByteView log_bytes_before_chain(LogSectorView sector);
ByteView log_bytes_before_crc(LogSectorView sector);

} // namespace cardseal::format
