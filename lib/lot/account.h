// Where a lot stands, from the register alone: each unit that was issued is good, conceded,
// scrapped, reworked, without a board, unused, unknown, or open; and what keeps it from being
// closed.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "format/lot_texts.h"
#include "register/register.h"

namespace cardseal::lot {

enum class Standing : std::uint8_t {
  not_made,  // numbers were spent and no image was ever written
  image,     // the image was made; nobody noted a card
  out,       // on a card, and not back
  uncounted, // back, and no results were kept since
  counted,   // back, and its results kept after that
  lost,
  destroyed,
  erased, // before its results were kept
};
inline constexpr std::array<std::string_view, 8> standing_words{
    "not-made", "image", "out", "uncounted", "counted", "lost", "destroyed", "erased"};

struct LabelCounts { // of a card whose labels the register knows; sum up by themselves
  std::uint64_t printed = 0;
  std::uint64_t applied = 0;
  std::uint64_t scrapped = 0;
  std::uint64_t open = 0;    // printed, and nobody scanned or scrapped it
  std::uint64_t astray = 0;  // on a board that will not ship
  std::uint64_t without = 0; // boards that ship and have none
};

struct CardAccount {
  registry::AllotmentRow row;
  std::string place; // in the order; empty: none
  Standing standing = Standing::image;
  format::UnitCounts counts;
  std::vector<registry::Range> open; // begun, not good, and nobody said what became of them
  std::vector<registry::Settlement> settled;
  std::vector<registry::Range> taken_back; // on a later card under the number they have
  std::optional<LabelCounts> labels;       // none: none of it was exported for printing

  std::uint64_t open_units() const;
};

struct Point {
  std::string code;      // for scripts
  bool blocking = false; // the lot can't be closed with it
  std::string text;      // a sentence, at most 160 bytes
};

// An order that was merged into this one.
struct Part {
  registry::Merge merge;
  std::optional<registry::OrderRow> order; // as in Account
  std::size_t cards = 0;
  std::uint64_t issued = 0;
};

// Of a work order and of all that was merged into it; of one that was merged itself its own cards.
struct Account {
  std::string work_order;
  std::optional<registry::OrderRow> order; // newest revision; none: its cards were made without one
  std::vector<Part> parts;
  std::optional<registry::Merge> merged; // into another one
  std::string counted_in;                // by the order that counts and closes it; else empty
  bool closed_there = false;             // that one is closed
  std::vector<CardAccount> cards;        // its own first
  format::UnitCounts units;              // of all cards
  std::uint64_t issued = 0;
  std::uint64_t open = 0;
  std::uint64_t ordered = 0; // boards; without an order the units of its cards but spares
  std::vector<registry::Statement> statements;
  bool first_article = false; // one is signed for this very order, and counts
  std::vector<Point> points;  // blocking ones first

  bool is_own(const CardAccount& card) const { return card.row.work_order == work_order; }
  std::uint64_t spares() const; // of its order, and of those that were merged into it
  bool closed() const;
  bool closable() const;          // no blocking point
  std::string work_class() const; // of the order, else of the first card
  // Boards that can ship: of class engineering none ever does.
  std::uint64_t shippable() const;
  std::uint64_t shippable(const CardAccount& card) const;
};

// Whether a first article that the register keeps counts: by root and trust list, where somebody
// has them. None: as it stands.
using CountsFirst = std::function<bool(const registry::Statement&)>;

// Errors: work-order-unknown, and those of the register.
Try<Account> account_of(registry::Register& numbers, const std::string& work_order,
                        const CountsFirst& counts = {});

// All work orders of a register, by the first step that named each.
Try<std::vector<std::string>> work_orders(registry::Register& numbers);

} // namespace cardseal::lot
