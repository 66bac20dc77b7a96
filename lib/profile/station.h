// Station profile: what one model of programming station can do, what it reads, and which card it
// wants. Authored as station.xml (templates/author/station.xml explains each value).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "diag/error.h"
#include "profile/source.h"

namespace cardseal::profile {

enum class Reads : std::uint8_t {
  signed_package, // checks every signature itself
  plain_file,     // reads a firmware file and checks nothing
  signed_no_log,  // as signed_package, but writes nothing on a card
};

enum class SerialAbility : std::uint8_t {
  none,    // every unit gets the same bytes
  counter, // counts by itself, keyed in by hand
  file,    // takes numbers from a file of its own
  loader,  // from the signed allotment; signed packages only
  // none by itself, but it takes a firmware file for each board, with the number in it; plain files
  // only
  unit_file,
};

struct StationSupply {
  std::uint32_t min_mv = 0;
  std::uint32_t max_mv = 0; // min + a multiple of step
  std::uint32_t step_mv = 1;
  std::uint32_t tolerance_mv = 0;      // it gives the set value plus or minus this, and
  std::uint32_t tolerance_ppm = 0;     // this part of the set value, in millionths; both together
  bool senses_foreign_voltage = false; // refuses to switch on where a supply already stands
  Source source;
  Place place;
};

struct StationCurrent {
  std::uint32_t slot_ma = 0;            // limit of one slot
  std::uint32_t all_ma = 0;             // limit of all slots together, at least slot_ma
  std::uint32_t shared_return_mohm = 0; // carries the current of all slots
  Source source;
  Place place;
};

struct StationSwitching {
  std::uint32_t settle_us = 0;            // between switching on and the first signal
  std::uint32_t wait_us = 0;              // between switching off and what needs a board discharged
  std::optional<std::uint32_t> bleed_ohm; // none: nothing discharges a board
  std::uint32_t removal_mv = 1;           // at or below which boards may be taken off
  Source source;
  Place place;
};

// What its lines to a board stand at when they are high.
struct StationSignals {
  bool follow_supply = true;      // as high as its own supply, or the board's that it senses; else
  std::uint32_t set_mv = 0;       // fixed, and
  std::uint32_t tolerance_mv = 0; // so far off at the most
  Source source;
  Place place;
};

// What one station can do with a device and another can't.
struct StationAbilities {
  bool verifies_low_high = false; // verifies at two supplies, one after the other
  bool keeps_words = false;       // saves what an erase would take, and writes it back
  bool works_own_supply = false;  // works with its own supply off on a board that has one
  Source source;
  Place place;
};

enum class SlotOrder : std::uint8_t { together, one_after_another };

struct StationWork {
  SlotOrder order = SlotOrder::together;
  bool clears_buffer = true;      // before it loads a file; else bytes of the job before may stay
  std::uint32_t text_columns = 1; // of its display, 1 to 80
  std::uint32_t program_bytes_per_s = 1000; // to one board, without the device's own time
  std::uint32_t verify_bytes_per_s = 1000;
  std::uint32_t overhead_us = 0;       // a board: supply up and down, ID check, blank check, lock
  std::uint32_t handling_board_us = 0; // putting in and taking out
  std::uint32_t handling_cycle_us = 0; // what a cycle takes once
  Source source;
  Place place;
};

enum class PlainFormat : std::uint8_t { intel_hex, raw };
enum class LineEnd : std::uint8_t { lf, crlf };
enum class SumRange : std::uint8_t {
  code_region, // from the first to the last address of the device's code
  image_span,  // from the first to the last address of the file
};

// What the station computes over the file and shows, for people to compare.
struct ShownChecksum {
  std::string algorithm; // a name that parse_crc (base/crc.h) takes; byte-sum-16, byte-sum-32,
                         // word-sum-16-le, word-sum-16-be; or device-sum-16
  SumRange over = SumRange::code_region;
  std::uint8_t fill = 0xFF;   // stands where the file has no byte; not for device-sum-16
  bool configuration = false; // the configuration words count too, behind the rest
  bool after_serial = false;  // it is over what a unit gets, so it differs from unit to unit
  std::uint32_t digits = 4;   // hex digits on the station's display, the last ones, 1 to 8
  Place place;
};

struct PlainFile {
  std::string name;   // 8.3 upper case; with unit_file '#' stand for the digits of an ordinal
  std::string folder; // one upper-case name of at most 8; empty: the card's top folder
  PlainFormat format = PlainFormat::intel_hex;
  std::uint32_t record_length = 16;      // data bytes a record, 1 to 255; intel_hex only
  LineEnd line_end = LineEnd::crlf;      // intel_hex only
  std::optional<ShownChecksum> checksum; // none: it shows nothing
  Source source;
  Place place;
};

struct CardWanted {
  std::uint32_t cluster_sectors = 8; // a power of two, 1 to 128
  bool mbr = true;                   // a partition table, or the volume from the first sector
  std::uint32_t max_sectors = 0;     // of 512 bytes; enough for FAT32 with such clusters
  std::string label;                 // 1 to 11
  Source source;
  Place place;
};

struct Station {
  std::string id;          // the model, at most 16
  std::string title;       // at most 40 bytes
  std::uint32_t slots = 1; // 1 to 32
  Reads reads = Reads::signed_package;
  SerialAbility serial = SerialAbility::none;
  StationSupply supply;
  StationCurrent current;
  StationSwitching switching;
  StationSignals signals;
  StationAbilities abilities;
  StationWork work;
  std::vector<std::string> entries;     // ways into a device, as device profiles name them
  std::optional<Source> entries_source; // exactly when there are entries
  std::optional<PlainFile> plain_file;  // exactly when it reads plain files
  CardWanted card;
  Place place;
};

xml::All<Station> read_station(const xml::Document& document);

} // namespace cardseal::profile
