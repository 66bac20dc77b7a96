// A register in a folder of its own, requests to it, and its file read past its own rules.
#pragma once

#include <string>
#include <vector>

#include "register/head_file.h"
#include "register/register.h"
#include "support/card_kit.h"
#include "support/catch.h"
#include "support/faulting_vfs.h"
#include "support/temp_folder.h"

namespace cardseal::registry {

inline const char* const scheme_name = "fn-serial";

inline format::Key key_number(std::uint8_t number) {
  format::Key key{};
  key.fill(number);
  return key;
}

inline format::Window window_of(std::uint64_t first, std::uint64_t last, std::uint8_t key = 1) {
  format::Window window;
  window.key = key_number(key);
  window.scheme = test::id(scheme_name);
  window.first = first;
  window.last = last;
  return window;
}

inline const std::vector<format::Window> windows{window_of(100, 299)};

// Cards for one station, `units` on each.
inline SetRequest request_of(std::size_t cards, std::uint32_t units,
                             std::vector<format::Window> permitted = {window_of(100, 299)}) {
  SetRequest set;
  set.manifest.fill(7);
  set.product = test::id("frost-node");
  set.scheme.set(test::id(scheme_name));
  set.capacity = 1'000'000;
  set.permitted = std::move(permitted);
  set.work_order = test::text<24>("WO-1");
  for (std::size_t i = 0; i < cards; ++i) {
    CardRequest card;
    card.station = test::id("orchard-1");
    card.units = units;
    card.enabled_slots = 0x3F;
    set.cards.push_back(card);
  }
  return set;
}

template <class T>
T must(Try<T> tried) {
  if (!tried) {
    FAIL(describe(tried.error()));
  }
  return std::move(*tried);
}
inline void must(const Try<void>& tried) {
  if (!tried) {
    FAIL(describe(tried.error()));
  }
}
template <class T>
std::string code_of(const Try<T>& tried) {
  return tried ? "done" : tried.error().code;
}

// A register's file with what stands beside it, as somebody who moves both would have it.
inline void copy_register(const io::Path& from, const io::Path& to) {
  const auto replace = std::filesystem::copy_options::overwrite_existing;
  std::filesystem::copy_file(from, to, replace);
  std::filesystem::copy_file(head_path(from), head_path(to), replace);
}

struct Desk {
  Desk() {
    test::install_faulting_vfs();
    test::really_sync = false; // no power fails here, and syncs take most of the time
    owner.fill(9);
    (void)must(Register::create(io::real_system(), path, owner));
    (void)must(open().enrol({test::id("orchard-1"), false, std::nullopt, 1}));
  }
  Register open() const { return must(Register::open(io::real_system(), path, owner)); }
  // Past every rule of ours but the tables' own.
  Try<void> raw(const std::string& sql) const {
    Database database = must(Database::open(path, Access::existing, 1000));
    return database.execute(sql.c_str());
  }
  std::uint64_t number(const char* sql) const {
    Database database = must(Database::open(path, Access::existing, 1000));
    return must(database.number(sql));
  }
  std::vector<std::string> problems() const {
    return must(must(Register::open(io::real_system(), path, std::nullopt)).check());
  }

  test::TempFolder folder;
  io::Path path = folder / "desk.register";
  format::Digest owner{};
};

// What a card of this allotment would carry as its sealed text, signed by `key`.
inline Evidence evidence_of(const Reserved& given, std::uint32_t units, std::uint8_t key = 1,
                            bool with_entry = true) {
  Evidence evidence;
  evidence.signer = key_number(key);
  format::Allotment& a = evidence.allotment;
  a.scheme.set(test::id(scheme_name));
  a.card = given.card;
  a.station = test::id("orchard-1");
  a.enrolment = given.enrolment;
  a.serial = given.serial;
  a.first = given.range.first;
  a.count = given.range.count;
  a.units = units;
  if (with_entry) {
    a.register_entry.set(given.entry);
  }
  evidence.text = given.entry; // of any text: it only has to be one text's
  return evidence;
}

} // namespace cardseal::registry
