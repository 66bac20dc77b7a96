// Names on a card. 8.3 upper case for stations; what only people read may have long names.
#pragma once

#include <string>
#include <vector>

#include "fat32/plan.h"
#include "format/card_texts.h"
#include "io/file.h"

namespace cardseal::card {

inline constexpr std::string_view folder = "CARDSEAL";
inline constexpr std::string_view index_path = "CARDSEAL/CARD.TXT";
inline constexpr std::string_view index_signature_path = "CARDSEAL/CARD.S01";
inline constexpr std::string_view roots_path = "CARDSEAL/ROOTS.TAR"; // from the second root on
inline constexpr std::string_view trust_path = "CARDSEAL/TRUST.TXT";
inline constexpr std::string_view log_path = "CARDSEAL/LOG.CSV";
inline constexpr std::string_view readme_path = "README.TXT";
inline constexpr std::string_view setup_path = "SETUP.TXT";

// Of the card's jobs: "CARDSEAL/P01.CRP" for 0 and so on, "CARDSEAL/A01.TXT", "CARDSEAL/A01.S01".
std::string package_path(std::size_t job);
std::string allotment_path(std::size_t job);
std::string allotment_signature_path(std::size_t job);

// "CARDSEAL/W01.TXT" for 0 and so on, and its signature.
std::string withdrawal_path(std::size_t index);
std::string withdrawal_signature_path(std::size_t index);

// "CARDSEAL/TRUST.S01" for 0 and so on.
std::string trust_signature_path(std::size_t index);

struct CardFile {
  std::string path;                // short names joined by '/'
  io::Bytes content;               // its own, unless it has them from somebody who
  const io::Bytes* lent = nullptr; // outlives the card: a package's, which are many
  ByteView bytes() const { return lent != nullptr ? ByteView(*lent) : ByteView(content); }
};

// The tree that fat32 plans, in the files' order; folders appear where first met.
std::vector<fat32::Node> tree_of(const std::vector<CardFile>& files);

// Sorted by path, as the index wants them.
Try<void> list_files(std::vector<const CardFile*> files, format::List<format::FileOnCard, 24>& out);

} // namespace cardseal::card
