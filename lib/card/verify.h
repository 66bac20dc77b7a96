// What the desk checks of a card: the volume's structure, then signatures, then contents, then what
// is on it without being planned. Everything is looked at; nothing stops at the first fault unless
// what follows depends on it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "card/layout.h"
#include "fat32/checker.h"
#include "fat32/reader.h"
#include "package/package.h"

namespace cardseal::card {

struct CardPackage {
  std::string path;
  package::Package package;
  trust::PackageVerdict verdict;
};

struct CardReport {
  Findings structure;          // of the FAT32 volume
  std::vector<Error> problems; // signatures and contents, in the order of checking
  std::vector<std::string> unplanned;
  std::vector<std::string> left_over;     // files that desktop systems put on every card they see
  std::optional<format::CardIndex> index; // as far as it could be believed
  std::optional<format::TrustList> trust;
  std::vector<CardPackage> packages;
  std::vector<format::Allotment> allotments;
  std::vector<format::Withdrawal> withdrawals; // what they stop is off `trust` already
  std::uint32_t files_checked = 0;
  std::uint32_t root_version = 0; // the newest that the card leads to

  bool sound() const;
  // Not sound, and all that is wrong with it is what a desktop system did that had it in its
  // reader: left-over files of its own, marks of being in use. What is signed is as it was.
  bool touched() const;
};

enum class LogState : std::uint8_t {
  initial,  // the card goes out: as it was made
  returned, // the card came back: only its place and size are looked at here
};

// An error only when the card can't be read at all; every fault found is in the report.
Try<CardReport> verify_card(fat32::SectorSource& source, const seal::OwnerRoot& root,
                            LogState log = LogState::initial);

} // namespace cardseal::card
