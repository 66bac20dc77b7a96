// Kinds `allotment` and `card`: the share of a lot on one card, and what the card holds.
#pragma once

#include "format/manifest.h"
#include "format/signoff.h"

namespace cardseal::format {

enum class WorkClass : std::uint8_t { engineering, pilot, production, rework, sample };
inline constexpr std::array<std::string_view, 5> work_class_words{"engineering", "pilot",
                                                                  "production", "rework", "sample"};

using CardId = std::array<std::uint8_t, 8>;

// Where a unit's number comes from: the next one that no board has; read from the board before it
// is erased; or from the board's label, where its memory can't be read.
enum class Numbers : std::uint8_t { fresh, kept, stated };
inline constexpr std::array<std::string_view, 3> numbers_words{"new", "kept", "stated"};

struct Allotment {
  static constexpr std::string_view kind = "allotment";
  static constexpr std::size_t limit = 2048;

  Digest owner{};
  Digest manifest{};
  Id product;
  Maybe<Id> scheme; // none: the release has no serials
  CardId card{};
  Id station;
  std::uint32_t enrolment = 1;
  std::uint64_t serial = 1; // of this allotment, rising for each station
  std::uint64_t first = 0;  // ordinal
  std::uint64_t count = 0;  // ordinals; 0 exactly when there is no scheme
  Numbers numbers = Numbers::fresh;
  List<OrdinalRange, 16> spans; // not of new numbers: the ordinals that the boards have
  std::uint32_t units = 1;
  WorkClass work_class = WorkClass::production;
  Name work_order;
  std::uint32_t enabled_slots = 0; // bit 0 is slot 1
  Maybe<Text<16>> date_code;
  Maybe<Digest> register_entry;
};

// Spans are there exactly when numbers are not new; they rise with room between, the first begins
// at `first`, and together they are `count` ordinals.
constexpr bool spans_good(const Allotment& a) {
  std::uint64_t total = 0;
  for (std::uint16_t i = 0; i < a.spans.count; ++i) {
    const OrdinalRange& span = a.spans.items[i];
    if (i == 0 ? span.first != a.first : span.first <= a.spans.items[i - 1U].last + 1) {
      return false;
    }
    total += span.last - span.first + 1;
  }
  return a.numbers == Numbers::fresh ? a.spans.count == 0 : total != 0 && total == a.count;
}

// The ordinal in place `at` of the allotment's, from 0, below `count`.
std::uint64_t ordinal_at(const Allotment& a, std::uint64_t at);
// False when the ordinal is none of the allotment's.
bool place_of(const Allotment& a, std::uint64_t ordinal, std::uint64_t& at);

template <class V>
void visit(V& v, Allotment& a) {
  digest_line(v, "owner", a.owner);
  digest_line(v, "manifest", a.manifest);
  id_line(v, "product", a.product);
  line(v, "scheme", [&] { v.optional(a.scheme.present, [&] { v.id(a.scheme.value); }); });
  line(v, "card", [&] { v.bytes(a.card); });
  id_line(v, "station", a.station);
  uint_line(v, "enrolment", a.enrolment, 1, 999'999);
  uint_line(v, "serial", a.serial, 1, 999'999'999);
  uint_line(v, "first", a.first, 0, max_ordinal);
  uint_line(v, "count", a.count, 0, 9'999'999);
  line(v, "numbers", [&] { v.word(a.numbers, numbers_words); });
  lines(v, "spans", "span", a.spans, [&](OrdinalRange& span) {
    v.uint(span.first, 0, max_ordinal);
    v.uint(span.last, span.first, max_ordinal);
  });
  v.reference(spans_good(a));
  uint_line(v, "units", a.units, 1, 9'999'999);
  line(v, "class", [&] { v.word(a.work_class, work_class_words); });
  line(v, "work-order", [&] { v.quoted(a.work_order, Charset::display); });
  line(v, "enabled-slots", [&] { v.hex(a.enabled_slots, 8); });
  line(v, "date-code", [&] {
    v.optional(a.date_code.present, [&] { v.quoted(a.date_code.value, Charset::display); });
  });
  maybe_digest_line(v, "register-entry", a.register_entry);
  v.reference(a.scheme.present == (a.count != 0));
}

struct PackageOnCard {
  CardPath path;
  std::uint32_t size = 0;
  Digest file{};     // of all its bytes
  Digest manifest{}; // its identity
};

struct FileOnCard {
  CardPath path;
  std::uint32_t size = 0;
  Digest digest{};
};

struct LogExtent { // absolute sectors on the card
  std::uint32_t first = 0;
  std::uint32_t count = 0;
};

// A signed file that says so is on a card whose station writes no log; one that writes a log takes
// no such card, and the other way round.
inline constexpr std::string_view no_log_path = "CARDSEAL/NOLOG.TXT";

struct CardIndex {
  static constexpr std::string_view kind = "card";
  static constexpr std::size_t limit = 8192;

  Digest owner{};
  CardId card_id{};
  std::uint32_t root_version = 1;
  std::uint32_t trust_sequence = 1;
  Maybe<LogExtent> log; // none on a card for stations that write none
  List<PackageOnCard, 8> packages;
  List<FileOnCard, 8> allotments;
  List<FileOnCard, 24> files; // everything else but the index, its signature, and the log
};

// False for a card with a log, and for one whose station reads plain files and nothing of this.
inline bool works_without_log(const CardIndex& index) {
  bool noted = false;
  for (const FileOnCard& file : index.files.view()) {
    noted = noted || file.path.view() == no_log_path;
  }
  return noted && !index.log.present;
}

template <class V>
void visit_card_file(V& v, FileOnCard& file) {
  v.quoted(file.path, Charset::display);
  v.uint(file.size, 0, 0x7FFF'FFFF);
  v.digest(file.digest);
}

template <class V>
void visit(V& v, CardIndex& c) {
  digest_line(v, "owner", c.owner);
  line(v, "card-id", [&] { v.bytes(c.card_id); });
  uint_line(v, "root-version", c.root_version, 1, 999'999);
  uint_line(v, "trust-sequence", c.trust_sequence, 1, 999'999'999);
  line(v, "log-extent", [&] {
    v.optional(c.log.present, [&] {
      v.uint(c.log.value.first, 1, 0xFFFF'FFFF);
      v.uint(c.log.value.count, 1, 4'194'304);
    });
  });
  lines(
      v, "packages", "package", c.packages,
      [&](PackageOnCard& package) {
        v.quoted(package.path, Charset::display);
        v.uint(package.size, 1, 0x7FFF'FFFF);
        v.digest(package.file);
        v.digest(package.manifest);
      },
      0, Order::first_field);
  lines(
      v, "allotments", "allotment", c.allotments,
      [&](FileOnCard& file) { visit_card_file(v, file); }, 0, Order::first_field);
  lines(
      v, "files", "file", c.files, [&](FileOnCard& file) { visit_card_file(v, file); }, 0,
      Order::first_field);
}

} // namespace cardseal::format
