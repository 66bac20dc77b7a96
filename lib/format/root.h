// Kind `root`: the owner's root of trust. Whoever holds `threshold` of its keys decides who may
// sign anything else.
#pragma once

#include "format/line.h"
#include "format/reader.h"

namespace cardseal::format {

struct Person {
  Id id;
  Name name; // for people; never decides
};

struct RootKey {
  Key key{};
  Id person;
};

struct Root {
  static constexpr std::string_view kind = "root";
  static constexpr std::size_t limit = 8192; // bytes

  Maybe<Digest> owner; // digest of the owner's first root; none in the first root itself
  std::uint32_t version = 1;
  std::uint8_t threshold = 1;
  List<Person, 16> persons;
  List<RootKey, 16> keys;
  Maybe<Digest> previous; // digest of the root before; none in the first
};

template <class T>
bool knows_person(const T& text, const Id& id) {
  for (const Person& person : text.persons.view()) {
    if (person.id == id) {
      return true;
    }
  }
  return false;
}

template <class V>
void person_lines(V& v, List<Person, 16>& persons) {
  lines(
      v, "persons", "person", persons,
      [&](Person& person) {
        v.id(person.id);
        v.quoted(person.name, Charset::people);
      },
      1, Order::first_field);
}

template <class V>
void visit(V& v, Root& root) {
  maybe_digest_line(v, "owner", root.owner);
  uint_line(v, "version", root.version, 1, 999'999);
  uint_line(v, "threshold", root.threshold, 1, 16);
  person_lines(v, root.persons);
  lines(
      v, "keys", "key", root.keys,
      [&](RootKey& key) {
        v.bytes(key.key);
        v.id(key.person);
        v.reference(knows_person(root, key.person));
      },
      1, Order::first_field);
  maybe_digest_line(v, "previous", root.previous);
  const bool first = root.version == 1;
  v.reference(root.owner.present != first && root.previous.present != first);
  v.reference(root.threshold <= root.persons.count && root.threshold <= root.keys.count);
}

} // namespace cardseal::format
