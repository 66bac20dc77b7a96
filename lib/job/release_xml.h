// release.xml as its author wrote it: what is to be programmed into which board, how, and with
// which serial numbers. Parsed and checked as far as the file alone allows; the files it names are
// not opened here. Each part keeps its place for later messages: that of the attribute which is
// most often the reason for one.
//
// Limits are those of a sealed manifest (lib/format/manifest.h).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "base/number.h"
#include "diag/error.h"
#include "format/facts.h"
#include "format/manifest.h"
#include "serial/scheme.h"
#include "xml/element.h"

namespace cardseal::job {

using FirmwareFormat = format::FirmwareFormat;

enum class ElfBy : std::uint8_t { sections, segments };

// Paths are relative to the folder of release.xml, with '/' between folders.
struct FirmwareRef {
  std::string file;
  xml::Digest sha256{}; // of the file's bytes, as they were approved
  FirmwareFormat format = FirmwareFormat::intel_hex;
  std::uint32_t address = 0;               // of the first byte; raw only
  std::optional<xml::Digest> image_sha256; // over addresses and bytes, as the build stated it
  bool missing_end_allowed = false;        // records only: the end record may be missing
  bool comments_allowed = false;           // records only: comment lines may stand between records
  std::optional<ElfBy> elf_by;             // ELF only; none: see image/elf.h
  Place place;
};

// Text that the firmware holds so that people can tell its version.
struct VersionText {
  std::uint32_t address = 0; // byte address of its first character
  std::string text;          // 1 to 32 of printable ASCII
  Place place;
};

// Bytes over which the firmware computes a sum of its own when it runs.
struct OwnSum {
  std::uint32_t address = 0; // byte address
  std::uint32_t length = 1;  // bytes
  Place place;
};

struct ProfileRef {
  std::string file;
  Place place;
};

struct DeviceRef : ProfileRef {
  format::Configuration configuration = format::Configuration::none;
};

// What may differ from the package before, as its change order says.
struct ChangedRange {
  std::string region; // at most 16
  std::uint32_t address = 0;
  std::uint32_t length = 1; // bytes
  Place place;
};

struct Changes {
  std::string package;              // the file of the package before
  std::string order;                // number of the change order, 1 to 24 of printable ASCII
  std::vector<ChangedRange> ranges; // at most 32
  Place place;
};

struct PermittedSlots {
  std::uint32_t mask = 0; // bit 0 is slot 1; never 0
  Place place;
};

struct SupplyWanted {
  format::SupplySource source = format::SupplySource::station;
  std::uint32_t supply_mv = 0;                // 1 to 60,000
  std::optional<format::VerifyLimits> verify; // exactly with Verify::low_high; 1 to 60,000
  Place place;
};

struct Settings {
  format::Erase erase = format::Erase::none;
  bool blank_check = false;
  format::Verify verify = format::Verify::none;
  format::Lock lock = format::Lock::none;
  std::uint32_t stop_after = 0; // failures in a row on one slot, 0 to 99; 0: never stops
  bool plain_file = false; // may the image leave the package unsigned, for plain-file stations?
  Place place;
};

struct LotWanted {                     // for the times of a lot alone: nothing is ordered by it
  std::uint32_t good_boards = 1;       // 1 to 999,999
  std::uint32_t yield_ppm = 1'000'000; // good ones of a million, 100,000 to 1,000,000
  std::uint32_t slowest_ppm = 0;       // what the slowest board takes more, 0 to 1,000,000
  std::uint32_t set_up_s = 0;          // 0 to 3,600
  Place place;
};

// Sets the findings of one rule aside; lib/job/deviations.h.
struct Deviation {
  std::string number;       // 1 to 24 of printable ASCII
  std::string rule;         // id of the rule
  std::uint32_t boards = 1; // 1 to 9,999,999
  Utc expires;              // the last second of the stated day
  std::string reason;       // 1 to 96 of printable ASCII
  Place place;
};

struct DocumentRef {
  std::string file;
  std::string name; // in the package, 1 to 24 of letters, digits, '.', '-', '_'; each name once
  Place place;
};

struct ReleaseFile {
  std::string product;                 // at most 16
  std::string version;                 // 1 to 24 of printable ASCII
  std::uint32_t epoch = 0;             // 0 to 999,999
  std::uint32_t sequence = 1;          // 1 to 999,999,999
  std::string title;                   // 1 to 24 of printable ASCII; what a station shows
  std::optional<xml::Digest> previous; // manifest of the package that this one follows
  FirmwareRef firmware;
  std::optional<VersionText> version_text;
  std::vector<OwnSum> own_sums; // at most 4
  DeviceRef device;
  ProfileRef board;
  std::vector<ProfileRef> stations; // 1 to 8
  PermittedSlots slots;
  SupplyWanted supply;
  Settings settings;
  LotWanted lot;
  std::optional<serial::Scheme> serial; // none: <no-serial/>
  std::optional<Changes> changes;
  std::vector<Deviation> deviations;  // at most 8, by number; no rule twice
  std::vector<DocumentRef> documents; // at most 8
  Place place;
};

xml::All<ReleaseFile> read_release(const xml::Document& document);

// "1-3,5": slots 1 to 32 in rising order, '-' within a range, ',' between. False otherwise.
bool parse_slots(std::string_view text, std::uint32_t& mask);

} // namespace cardseal::job
