// Kind `manifest`: everything a station acts on. Its SHA-256 is the identity of a release package.
#pragma once

#include "format/serial_scheme.h"

namespace cardseal::format {

enum class SupplySource : std::uint8_t { station, board };
inline constexpr std::array<std::string_view, 2> supply_source_words{"station", "board"};

enum class Erase : std::uint8_t { none, chip };
inline constexpr std::array<std::string_view, 2> erase_words{"none", "chip"};

enum class Verify : std::uint8_t { none, nominal, low_high };
inline constexpr std::array<std::string_view, 3> verify_words{"none", "nominal", "low-high"};

struct VerifyLimits { // the two supplies of a low-high verify
  std::uint16_t low_mv = 0;
  std::uint16_t high_mv = 0;
};

enum class Lock : std::uint8_t { none, reversible, permanent };
inline constexpr std::array<std::string_view, 3> lock_words{"none", "reversible", "permanent"};

struct DeviceId {
  std::array<std::uint8_t, 8> value{}; // as many bytes as `size` says
  std::array<std::uint8_t, 8> mask{};
  std::uint8_t size = 1; // 1 to 8
};

struct KeptRange { // stays as the maker left it
  Id region;
  std::uint32_t address = 0;
  std::uint32_t length = 0;
};

struct Segment {
  std::uint32_t address = 0; // byte address
  std::uint32_t length = 1;  // bytes
};

struct SealedFile {
  Name name;
  std::uint32_t size = 0; // bytes
  Digest digest{};
};

struct Manifest {
  static constexpr std::string_view kind = "manifest";
  static constexpr std::size_t limit = 8192;

  Digest owner{};
  Id product;
  Name release; // version, for people and displays
  std::uint32_t epoch = 0;
  std::uint64_t sequence = 1;
  Name title;
  Maybe<Digest> previous; // manifest of the last approved package
  Text<32> device;
  Maybe<DeviceId> device_id;
  Text<32> board;
  std::uint32_t board_revision = 0;
  List<Id, 8> station_models;
  std::uint32_t slots = 0; // bit 0 is slot 1
  std::uint32_t supply_mv = 0;
  SupplySource supply_source = SupplySource::station; // the small ones together, for the arena
  Erase erase = Erase::none;
  YesNo blank_check = YesNo::no;
  Verify verify = Verify::none;
  Lock lock = Lock::none;
  std::uint8_t stop_after = 0;       // failures in a row on one slot; 0: never
  Maybe<VerifyLimits> verify_limits; // exactly with low_high
  List<KeptRange, 16> kept;
  Maybe<Scheme> scheme;
  Maybe<Alphabet> alphabet; // none: digits, then letters from A
  Maybe<SerialCrc> serial_crc;
  List<ExcludedRange, 8> excluded;
  List<Part, 8> parts;
  List<Placement, 8> placements;
  List<Segment, 64> segments;
  std::uint32_t image_size = 0;
  Digest image_digest{};
  Digest chain_head{};
  YesNo plain_file = YesNo::no;
  std::uint32_t facts_size = 0;
  Digest facts_digest{};
  List<SealedFile, 8> files;
};

inline constexpr std::uint64_t max_ordinal = 999'999'999'999;
inline constexpr std::uint32_t max_image = 0x7FFF'FFFF;

template <class V>
void visit_device_id(V& v, DeviceId& id) {
  v.uint(id.size, 1, 8);
  const std::size_t size = id.size < id.value.size() ? id.size : id.value.size();
  v.bytes({id.value.data(), size});
  v.bytes({id.mask.data(), size});
}

template <class V>
void visit_file(V& v, SealedFile& file) {
  v.quoted(file.name, Charset::display);
  v.uint(file.size, 0, 0x7FFF'FFFF);
  v.digest(file.digest);
}

// Only a station that powers the board can change its supply.
constexpr bool verify_limits_good(const Manifest& m) {
  const VerifyLimits& limits = m.verify_limits.value;
  return m.verify_limits.present == (m.verify == Verify::low_high) &&
         (!m.verify_limits.present ||
          (m.supply_source == SupplySource::station && limits.low_mv < limits.high_mv &&
           limits.low_mv <= m.supply_mv && m.supply_mv <= limits.high_mv));
}

template <class V>
void visit_verify(V& v, Manifest& m) {
  VerifyLimits& limits = m.verify_limits.value;
  line(v, "verify", [&] {
    v.word(m.verify, verify_words);
    v.optional(m.verify_limits.present, [&] {
      v.uint(limits.low_mv, 0, 60'000);
      v.uint(limits.high_mv, limits.low_mv, 60'000);
    });
  });
  v.reference(verify_limits_good(m));
}

template <class V>
void visit_job(V& v, Manifest& m) {
  line(v, "slots", [&] { v.hex(m.slots, 8); });
  line(v, "supply", [&] {
    v.word(m.supply_source, supply_source_words);
    v.uint(m.supply_mv, 0, 60'000);
  });
  line(v, "erase", [&] { v.word(m.erase, erase_words); });
  yes_no_line(v, "blank", m.blank_check);
  visit_verify(v, m);
  line(v, "lock", [&] { v.word(m.lock, lock_words); });
  lines(v, "kept", "kept-range", m.kept, [&](KeptRange& kept) {
    v.id(kept.region);
    v.uint(kept.address, 0, 0xFFFF'FFFF);
    v.uint(kept.length, 1, 0xFFFF'FFFF);
  });
  uint_line(v, "stop-after", m.stop_after, 0, 99);
}

template <class V>
void visit(V& v, Manifest& m) {
  digest_line(v, "owner", m.owner);
  id_line(v, "product", m.product);
  line(v, "release", [&] { v.quoted(m.release, Charset::display); });
  uint_line(v, "epoch", m.epoch, 0, 999'999);
  uint_line(v, "sequence", m.sequence, 1, 999'999'999);
  line(v, "title", [&] { v.quoted(m.title, Charset::display); });
  maybe_digest_line(v, "previous", m.previous);
  id_line(v, "device", m.device);
  line(v, "device-id",
       [&] { v.optional(m.device_id.present, [&] { visit_device_id(v, m.device_id.value); }); });
  line(v, "board", [&] {
    v.id(m.board);
    v.uint(m.board_revision, 0, 999'999);
  });
  lines(
      v, "station-models", "station-model", m.station_models, [&](Id& model) { v.id(model); }, 1);
  visit_job(v, m);
  visit_serial(v, m);
  lines(
      v, "segments", "segment", m.segments,
      [&](Segment& segment) {
        v.uint(segment.address, 0, 0xFFFF'FFFF);
        v.uint(segment.length, 1, max_image);
      },
      1);
  line(v, "image", [&] {
    v.uint(m.image_size, 1, max_image);
    v.digest(m.image_digest);
  });
  digest_line(v, "chain-head", m.chain_head);
  yes_no_line(v, "plain-file", m.plain_file);
  line(v, "facts", [&] {
    v.uint(m.facts_size, 1, max_facts);
    v.digest(m.facts_digest);
  });
  lines(
      v, "files", "file", m.files, [&](SealedFile& file) { visit_file(v, file); }, 0,
      Order::first_field);
}

} // namespace cardseal::format
