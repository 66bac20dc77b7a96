// What goes into a register and comes out of it. Ordinals throughout; what a unit carries is
// derived from the release's scheme elsewhere.
//
// The module's folder is `register`; the namespace is `registry`, since the other is a word of the
// language.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "format/card_texts.h"
#include "format/signoff.h"

namespace cardseal::registry {

struct Range { // of ordinals
  std::uint64_t first = 0;
  std::uint64_t count = 0;
  std::uint64_t past() const { return first + count; }
  friend bool operator==(const Range&, const Range&) = default;
};

// The narrowest of what quality signed for one package; counted over all its allotments here.
struct Limits {
  format::Maybe<std::uint32_t> units_a_station;
  format::Maybe<std::uint32_t> stations;
  format::Maybe<format::OrdinalRange> numbers;
};

struct CardRequest {
  format::Id station; // enrolled in this register
  std::uint32_t units = 1;
  std::uint32_t enabled_slots = 0;
  bool spare = false;
  std::optional<format::CardId> card = {}; // none: one is made from the entry
  // Not new: boards that have numbers, all of them given and begun before; `again` names them,
  // rising and apart, `units` in all.
  format::Numbers numbers = format::Numbers::fresh;
  std::vector<Range> again = {};
};

// One package's share of the cards of one step, all given their numbers or none. `permitted`: the
// windows that the signed trust list gives to the desk's key.
struct SetRequest {
  format::Digest manifest{};
  format::Id product;
  format::Maybe<format::Id> scheme; // none: units are counted, no numbers given
  std::uint64_t capacity = 0;       // of the scheme, in ordinals
  format::Digest definition{};      // of what decides the text of an ordinal
  std::vector<format::Window> permitted;
  format::WorkClass work_class = format::WorkClass::production;
  format::Name work_order;
  format::Maybe<format::Text<16>> date_code;
  Limits limits;
  std::vector<CardRequest> cards;
  std::string place; // the order's word for these cards, each once in a work order; empty: none
  std::string parent = {}; // of boards that come back: the work order they are of; empty: any
};

struct Reserved { // one card's share, durable when it is returned
  std::uint64_t allotment = 0;
  format::CardId card{};
  std::uint32_t enrolment = 1;
  std::uint64_t serial = 1;
  Range range; // count 0: no scheme
  format::Digest entry{};
};

// Numbers for a station that is served by hand.
struct HandRequest {
  format::Id scheme;
  std::uint64_t capacity = 0; // in ordinals
  format::Digest definition{};
  std::vector<format::Window> permitted;
  std::uint64_t count = 0;
  std::string note; // what for: printable ASCII, 1 to 96 characters
};

// Numbers that are never to be given: those below `before` that are still there.
struct AbandonRequest {
  format::Id scheme;
  std::vector<format::Window> permitted;
  std::uint64_t before = 1; // not past the end of the scheme's last window here
  std::string note;         // why
};

struct Enrolled {
  format::Id station;
  std::uint32_t enrolment = 1;
  std::uint64_t next_serial = 1; // of its next allotment
};

enum class State : std::uint8_t {
  spent,   // numbers are reserved; nothing was signed for them, or nobody knows (a crash)
  sealed,  // signed; a card was not seen written
  written, // the card image is in its place
};
inline constexpr std::array<std::string_view, 3> state_words{"spent", "sealed", "written"};

// What became of a card that left the desk.
enum class Fate : std::uint8_t {
  on_card,   // its image was written to a memory card
  returned,  // the card came back
  destroyed, // by somebody who says so; the image may go on another card
  lost,      // it may turn up; its image goes on no other card
  erased,    // nothing of the image is on the card any more; it may go on this one or another
};
inline constexpr std::array<std::string_view, 5> fate_words{"on-card", "returned", "destroyed",
                                                            "lost", "erased"};

struct FateNote {
  Fate fate = Fate::on_card;
  std::string by;   // who says so: printable ASCII, 1 to 96 characters
  std::string note; // likewise
};

// A withdrawal that stops an allotment: the sealed text of that kind, and its one signature.
struct Stop {
  std::uint64_t allotment = 0;
  std::vector<std::uint8_t> text;
  std::array<std::uint8_t, 64> signature{};
  std::string time; // claimed
};

struct FateRow {
  FateNote note;
  std::string time; // claimed
};

struct AllotmentRow {
  std::uint64_t id = 0;
  std::uint64_t lot = 0;
  format::CardId card{};
  std::string station;
  std::uint64_t enrolment = 0;
  std::uint64_t serial = 0;
  std::optional<std::string> scheme;
  Range range; // of new numbers; else only its first and how many
  format::Numbers numbers = format::Numbers::fresh;
  std::vector<Range> again; // not of new numbers: the ordinals that the boards have
  std::uint64_t units = 0;
  std::uint64_t units_before = 0; // on its card, of allotments that its index lists earlier
  std::uint64_t jobs_on_card = 1; // allotments on its card, this one too
  std::uint64_t enabled_slots = 0;
  std::optional<std::string> date_code;
  bool spare = false;
  format::Digest manifest{};
  std::string product;
  std::string work_class;
  std::string work_order;
  State state = State::spent;
  std::optional<format::Digest> sealed_text;
  std::uint64_t begun = 0; // units, as reported
  std::uint64_t good = 0;
  format::Digest entry{};
  std::uint64_t entry_number = 0;
  std::string time;         // claimed; never decides
  std::optional<Fate> fate; // the last one noted
  // The card came back, no card of this image was erased or destroyed before, and results were kept
  // after the return was noted: nothing can have happened that they lack.
  bool counted_after_return = false;
  bool rewritten = false; // an earlier log of the card may be gone
  bool stopped = false;   // a withdrawal of it was signed when its card was lost
  // Results were kept after the card came back, whatever became of it since; of the card that its
  // image went on last.
  bool counted_once_back = false;

  // Units count from 0; there must be a scheme.
  std::uint64_t ordinal_of(std::uint64_t unit) const;
  std::optional<std::uint64_t> unit_of(std::uint64_t ordinal) const; // none: not of this card
  std::uint64_t last_ordinal() const { return ordinal_of(range.count - 1); }
};

// A lot order as the register keeps it; a later revision says more cards, boards or spares.
struct OrderRow {
  std::string work_order;
  std::uint64_t revision = 1;
  std::string work_class;
  format::Digest manifest{};
  std::string product;
  std::uint64_t quantity = 1; // boards
  std::uint64_t spares = 0;   // numbers beyond them
  bool first_article = false; // signed before any card but the first
  std::optional<std::string> parent;
  format::Digest file{}; // of the order as its author wrote it
  std::string time;      // claimed
  // That file itself, kept with the revision; empty: not given. What is read back has none:
  // `order_file` tells it.
  std::vector<std::uint8_t> bytes = {};
};

// What somebody says became of units that their log leaves open.
enum class Settled : std::uint8_t {
  scrapped, // the board will never ship
  no_board, // the number was spent and no board carries it
  reworked, // the board got another number
  conceded, // quality lets it ship as it is: by a signed concession only
};
inline constexpr std::array<std::string_view, 4> settled_words{"scrapped", "no-board", "reworked",
                                                               "conceded"};

struct UnitAt {
  std::uint64_t allotment = 0;
  std::uint64_t unit = 0; // 0 the allotment's first
  friend bool operator==(const UnitAt&, const UnitAt&) = default;
};

// One board under two numbers.
struct Rework {
  UnitAt before;
  UnitAt now;
};

struct Settlement {
  std::uint64_t allotment = 0;
  Range units; // 0 the allotment's first
  Settled what = Settled::scrapped;
  std::string by;   // printable ASCII, 1 to 96 characters
  std::string note; // likewise
  std::string time; // claimed
  // Of units that were reworked: the numbers that their boards have now, one each in their order.
  // Empty: not said. What is read back of a register has none: `number_after` tells them.
  std::vector<UnitAt> now = {};
};

// What became of labels that were exported for printing.
enum class LabelFate : std::uint8_t {
  printed,  // exported for printing; again only after the one before was scrapped
  applied,  // scanned on its board
  scrapped, // also one that was on a board
};
inline constexpr std::array<std::string_view, 3> label_words{"printed", "applied", "scrapped"};

struct LabelNote {
  std::uint64_t allotment = 0;
  Range units; // 0 the allotment's first
  LabelFate what = LabelFate::printed;
  std::string by;   // printable ASCII, 1 to 96 characters
  std::string note; // likewise
  std::string time; // claimed
};

// The last thing that was noted of each label of these units; none: it was never exported.
using LabelStates = std::vector<std::optional<LabelFate>>;
LabelStates last_of(const std::vector<LabelNote>& notes, const Range& units);

// From then on the first order is counted and closed with the other one, and gets no card.
struct Merge {
  std::string work_order;
  std::string whole; // the order that it was merged into
  std::string by;    // printable ASCII, 1 to 96 characters
  std::string note;  // likewise
  std::string time;  // claimed
};

// What quality signed about a lot: a sealed text of that kind with its one signature.
enum class StatementKind : std::uint8_t { first_article, concession, closure };
inline constexpr std::array<std::string_view, 3> statement_words{"first-article", "concession",
                                                                 "closure"};
struct Statement {
  StatementKind kind = StatementKind::closure;
  std::string work_order;
  std::vector<std::uint8_t> text;
  std::array<std::uint8_t, 64> signature{};
  std::string time; // claimed
};

struct UnitResult { // as reported
  bool begun = false;
  bool good = false;
};

enum class Use : std::uint8_t {
  open,    // where a window begins; no numbers
  allot,   // on a card
  hand,    // given without a card
  abandon, // never to be given: somebody said so
  lost,    // never to be given: the history lacks something
};
inline constexpr std::array<std::string_view, 5> use_words{"open", "allot", "hand", "abandon",
                                                           "lost"};

struct RangeRow {
  std::string scheme;
  Range range;
  Use use = Use::hand;
  std::string note;
  std::string time;
};

struct WindowRow {
  format::Key key{};
  std::string scheme;
  std::uint64_t first = 0;
  std::uint64_t last = 0;
  std::uint64_t next = 0; // last + 1: used up
};

struct EntryRow {
  std::string body; // lines, each with its end
  format::Digest digest{};
  std::string time; // claimed
};

struct Head {
  std::uint64_t entries = 0;
  format::Digest digest{};
};

// A sealed allotment whose signature was verified under the trust list in force.
struct Evidence {
  format::Key signer{};
  format::Digest text{}; // of the sealed text
  format::Allotment allotment;
  std::string file; // for messages
};

enum class Standing : std::uint8_t {
  known,      // this register gave it
  other_desk, // signed by a key without numbers here
  by_hand,    // given without a register; its numbers count as given now
  missing,    // this register's history lacks it: restored or copied
};
inline constexpr std::array<std::string_view, 4> standing_words{"known", "other-desk", "by-hand",
                                                                "missing"};

struct Met {
  Standing standing = Standing::known;
  std::uint64_t abandoned = 0;       // numbers
  std::vector<std::string> problems; // numbers given twice, in words
};

} // namespace cardseal::registry
