// What each key of the sealed texts is to people: where it stands by its risk, what it is called,
// and how each field is read. A key without a row is still compared, under its sealed name, and a
// test says that it has none.
#pragma once

#include "compare/differences.h"
#include "compare/words.h"

namespace cardseal::compare {

enum class Use : std::uint8_t {
  compared,
  shown,    // compared, and shown also where only another field of the item differs
  names,    // tells which item of its list it is
  position, // only says where the item stands, or what binds it to its own package: not compared
};

struct FieldRow {
  std::string_view name;
  Spell spell = as_sealed;
  Use use = Use::compared;
};

struct Row {
  std::string_view key; // "manifest.supply"
  Area area = Area::package;
  Risk risk = Risk::other;
  std::string_view what;
  std::vector<FieldRow> fields;
  // Says nothing new, and is left out, when something under this key differs: one key, or all that
  // begin with it when it ends in '.'.
  std::string_view unless = {};
};

const std::vector<Row>& rows();
// The row of a key, or one that calls the key and its fields by their sealed names.
Row row_of(std::string_view key, std::size_t fields);

} // namespace cardseal::compare
