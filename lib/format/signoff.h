// Kinds `signoff` and `withdrawal`: a person's signed yes about one package, and a signed stop.
#pragma once

#include "format/trust_list.h"

namespace cardseal::format {

struct OrdinalRange {
  std::uint64_t first = 0; // both included
  std::uint64_t last = 0;
};

struct Signoff {
  static constexpr std::string_view kind = "signoff";
  static constexpr std::size_t limit = 2048;

  Digest owner{};
  Digest manifest{};
  Id product;
  std::uint32_t epoch = 0;
  std::uint64_t sequence = 1;
  Role role = Role::release;
  Id person;
  Key key{};
  Text<64> meaning; // what the signature says, e.g. "approved for production"
  Text<96> reason;
  Utc time;               // claimed by the signer; never decides
  Maybe<Digest> previous; // text of the sign-off before; none in the first
  std::uint32_t trust_sequence = 1;
  Maybe<std::uint32_t> units_a_station; // none: no limit
  Maybe<std::uint32_t> stations;        // for people: one card can't know the others
  Maybe<OrdinalRange> numbers;
  YesNo plain_file = YesNo::no;
  Name tool;
};

template <class V>
void visit_limits(V& v, Signoff& s) {
  line(v, "units-a-station", [&] {
    v.optional(s.units_a_station.present, [&] { v.uint(s.units_a_station.value, 1, 9'999'999); });
  });
  line(v, "stations",
       [&] { v.optional(s.stations.present, [&] { v.uint(s.stations.value, 1, 9'999); }); });
  line(v, "numbers", [&] {
    v.optional(s.numbers.present, [&] {
      v.uint(s.numbers.value.first, 0, 999'999'999'999);
      v.uint(s.numbers.value.last, s.numbers.value.first, 999'999'999'999);
    });
  });
  yes_no_line(v, "plain-file", s.plain_file);
}

template <class V>
void visit(V& v, Signoff& s) {
  digest_line(v, "owner", s.owner);
  digest_line(v, "manifest", s.manifest);
  id_line(v, "product", s.product);
  uint_line(v, "epoch", s.epoch, 0, 999'999);
  uint_line(v, "sequence", s.sequence, 1, 999'999'999);
  line(v, "role", [&] { v.word(s.role, role_words); });
  id_line(v, "person", s.person);
  line(v, "key", [&] { v.bytes(s.key); });
  line(v, "meaning", [&] { v.quoted(s.meaning, Charset::people); });
  line(v, "reason", [&] { v.quoted(s.reason, Charset::people); });
  line(v, "time", [&] { v.utc(s.time); });
  maybe_digest_line(v, "previous", s.previous);
  uint_line(v, "trust-sequence", s.trust_sequence, 1, 999'999'999);
  visit_limits(v, s);
  line(v, "tool", [&] { v.quoted(s.tool, Charset::display); });
}

struct Withdrawal {
  static constexpr std::string_view kind = "withdrawal";
  static constexpr std::size_t limit = 2048;

  Digest owner{};
  Maybe<Digest> manifest; // exactly one of the three
  Maybe<Key> key;
  Maybe<Digest> allotment;
  Id person;
  Text<96> reason;
  Utc time;
};

template <class V>
void visit(V& v, Withdrawal& w) {
  digest_line(v, "owner", w.owner);
  maybe_digest_line(v, "manifest", w.manifest);
  line(v, "key", [&] { v.optional(w.key.present, [&] { v.bytes(w.key.value); }); });
  maybe_digest_line(v, "allotment", w.allotment);
  v.reference(w.manifest.present + w.key.present + w.allotment.present == 1);
  id_line(v, "person", w.person);
  line(v, "reason", [&] { v.quoted(w.reason, Charset::people); });
  line(v, "time", [&] { v.utc(w.time); });
}

} // namespace cardseal::format
