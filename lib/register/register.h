// The register of a desk: every range of numbers that it ever gave out, and what became of it. One
// SQLite file (sqlite.h says how it is kept), append-only, with a chain of digests over its
// entries:
//
//   digest(n) = SHA-256("cardseal-register 1" LF, digest(n-1) or 32 zero bytes, body(n))
//
// The claimed time of an entry stands beside it and outside the digest: the same steps on the same
// register give the same digests, and so the same cards, at any time.
//
// A number leaves once and never comes back. Order for a card: reserve (durable when it returns),
// sign, `seal`, write, `written`. Whatever dies in between has spent its numbers: the row stays, in
// state `spent` or `sealed`.
//
// Any number of processes may have the register open; each step is one transaction that holds the
// write lock. Errors besides those of sqlite.h: register-owner, register-version, register-exists,
// register-older, register-head, station-unknown, station-enrolled, station-serials,
// scheme-changed, window-none, window-used-up, window-past, scheme-used-up, limit-units,
// limit-stations, limit-numbers, card-id-used, place-taken, order-place, lot-closed, state-order,
// outcome-form.
//
// Beside the register stands a file that names its newest entry (head_file.h). A register that
// lacks that entry, or has no such file, is an older or a lone copy: it gives nothing
// (register-older) until `meet` has given up its windows.
#pragma once

#include <functional>

#include "register/sqlite.h"
#include "register/types.h"

namespace cardseal::registry {

struct Results { // of an allotment's units, as reported; bit 0 of byte 0 the first
  io::Bytes begun;
  io::Bytes good;
};

inline constexpr std::uint32_t default_busy_ms = 20'000;

class Register {
public:
  // Fails when there is a file already.
  static Try<Register> create(io::System& system, const io::Path& path,
                              const format::Digest& owner);
  // `owner`: refused when the register is another one's. None: not looked at.
  static Try<Register> open(io::System& system, const io::Path& path,
                            const std::optional<format::Digest>& owner,
                            std::uint32_t busy_ms = default_busy_ms);

  // Takes over what these windows have that no window here has yet. The number of new ones.
  Try<std::size_t> add_windows(const std::vector<format::Window>& windows);

  // A station's first enrolment, or with `again` one more, which spends what its cards had left.
  // `enrolment` and `next_serial` are for stations that were served before there was a register.
  struct Enrol {
    format::Id station;
    bool again = false;
    std::optional<std::uint32_t> enrolment;
    std::uint64_t next_serial = 1;
  };
  Try<Enrolled> enrol(const Enrol& enrol);

  // All cards or none. With `rehearse` everything is done and undone: what would come, and whether
  // it would.
  Try<std::vector<Reserved>> reserve(const SetRequest& request, bool rehearse = false);
  // Several packages on the same cards: card i of every request is one card of one station, so all
  // have as many. What each card got, in the order of the requests. `look` sees it with the
  // register locked, before it is given: what it answers `undo` or with an error was not given.
  using GivenCards = std::vector<std::vector<Reserved>>;
  enum class Answer { give, undo };
  using Look = std::function<Try<Answer>(const GivenCards& given)>;
  Try<GivenCards> reserve_together(const std::vector<SetRequest>& requests, const Look& look = {});
  // Before the text leaves: what was signed. Refused when the entry of the reservation is not here
  // any more (the file was set back meanwhile). `keep_newest` is called with the register locked;
  // its argument says whether none that was reserved later is sealed.
  using KeepNewest = std::function<Try<void>(bool newest)>;
  Try<void> seal(const Reserved& given, const format::Digest& text, const KeepNewest& keep = {});
  Try<void> written(std::uint64_t allotment);

  Try<Range> take_by_hand(const HandRequest& request);
  // How many numbers were given up. With `rehearse`, would be.
  Try<std::uint64_t> abandon(const AbandonRequest& request, bool rehearse = false);

  // Compares with a sealed allotment met anywhere. When it, or the file beside the register, shows
  // that this register's history lacks something, every number still in its windows is abandoned,
  // those of `permitted` included.
  Try<Met> meet(const Evidence& evidence, const std::vector<format::Window>& permitted);

  // Whether this register gave it, or met it before. Inside or outside a step.
  Try<bool> knows(const Evidence& evidence);

  // What was reported of an allotment's units, bit 0 of byte 0 the first: begun, and good among
  // them. Joined to what is known; a unit once begun or good stays so.
  Try<void> add_outcome(std::uint64_t allotment, ByteView begun, ByteView good);

  // Of one unit, 0 the allotment's first; none: nothing was reported of the allotment.
  Try<std::optional<UnitResult>> result_of(std::uint64_t allotment, std::uint64_t unit);

  // Of all units of an allotment.
  Try<std::optional<Results>> results_of(std::uint64_t allotment);

  // What became of a card, in the order in which it can. Refused: card-unknown, fate-order,
  // card-used (written again although units were begun), note-form. `rehearse`: whether it could be
  // noted.
  Try<void> note_fate(const format::CardId& card, const FateNote& note, bool rehearse = false);
  Try<std::vector<FateRow>> fates_of(const format::CardId& card); // the first one first

  // A card is lost, and what of it was sealed is stopped, in one step; a card that was noted as
  // lost before is only stopped. `stops` has one for each sealed allotment of the card. Refused
  // besides what note_fate refuses: stop-none (nothing was signed for the card), stop-kept (one of
  // these is here), stop-form (another allotment, or one of them missing).
  Try<void> note_lost(const format::CardId& card, const FateNote& note,
                      const std::vector<Stop>& stops, bool rehearse = false);
  Try<std::vector<Stop>> stops_of(const format::CardId& card); // by allotment

  // A work order's next revision, the first one too. Refused: order-revision (one like it or a
  // later one is here), order-other (what it is changed), lot-closed, note-form. One that is here
  // already, word for word, is no step.
  Try<void> enter_order(const OrderRow& order);
  Try<std::optional<OrderRow>> order_of(std::string_view work_order); // its newest revision
  // As its author wrote the newest revision; none: a layout before 5 kept its digest only.
  Try<std::optional<io::Bytes>> order_file(std::string_view work_order);
  // The lots of this work order that have a place in it.
  Try<std::vector<std::pair<std::string, std::uint64_t>>> places_of(std::string_view work_order);

  // No way back. Refused: work-order-unknown, merge-self, merge-other (a class or a package that
  // the other order has not), merge-parent (they come from different orders), merge-order (into one
  // that was never entered), merge-size (more than a closure holds), merge-first-article (asked
  // for, and not signed), lot-merged (one of both was merged before), lot-closed, note-form. After
  // it `enter_order`, `reserve` and `keep_statement` refuse the merged order (lot-merged); its
  // cards and units go on.
  Try<void> merge(const Merge& merge, bool rehearse = false);
  Try<std::optional<Merge>> merge_of(std::string_view work_order); // into which; none: it was not
  // Everything that was merged into this one, or into one of those; as it was entered.
  Try<std::vector<Merge>> merged_into(std::string_view work_order);
  // This one, the order that it was merged into, and so on up to the one that counts them all.
  Try<std::vector<std::string>> wholes_of(std::string_view work_order);

  // Units of one allotment. Refused: settled-before, settled-outside, settled-later, settled-open
  // (nothing was reported begun of one of them), settled-good (a good one has a board, and needs no
  // concession), settled-signed (`conceded` comes with a statement), lot-closed. Of new numbers
  // besides: rework-form, rework-lot (not of a rework lot whose parent is the lot of the old one),
  // rework-open (not good there), rework-used, rework-settled.
  Try<void> settle(const Settlement& settled, bool rehearse = false);
  // All of them in one step.
  Try<void> settle(const std::vector<Settlement>& settled, bool rehearse = false);
  // The number that a reworked board got, and the one that it had before.
  Try<std::optional<UnitAt>> number_after(const UnitAt& unit);
  Try<std::optional<UnitAt>> number_before(const UnitAt& unit);
  Try<void> each_rework(const std::function<void(const Rework&)>& take);
  Try<std::vector<Settlement>> settlements_of(std::uint64_t allotment); // ascending
  // Of an allotment's units those whose board a later card names: there its work is counted now.
  Try<std::vector<Range>> taken_back(const AllotmentRow& row); // ascending, one by one

  // All of these in one step. Refused: label-order (a label is printed, then applied or scrapped;
  // one that was scrapped may be printed again), label-outside, label-none (the card has no
  // numbers), lot-closed, note-form.
  Try<void> note_labels(const std::vector<LabelNote>& notes, bool rehearse = false);
  Try<std::vector<LabelNote>> labels_of(std::uint64_t allotment); // as they were noted

  // A signed statement about a lot, with the units that it settles, in one step. `at`: refused
  // (register-moved) when the register has another head by now, since the statement was about that
  // one. Refused: lot-closed.
  Try<void> keep_statement(const Statement& statement, const std::vector<Settlement>& settled = {},
                           const std::optional<Head>& at = {}, bool rehearse = false);
  Try<std::vector<Statement>> statements_of(std::string_view work_order);

  Try<std::vector<AllotmentRow>> allotments_of(std::string_view work_order);
  Try<std::vector<AllotmentRow>> allotments_on(const format::CardId& card);
  Try<std::optional<AllotmentRow>> allotment_by_id(std::uint64_t id);
  // Those whose range holds it: one a window at most. Looked up by index: as quick in a large
  // register as in a small one.
  Try<std::vector<AllotmentRow>> allotments_with(std::string_view scheme, std::uint64_t ordinal);

  // Looking, in the order of giving.
  Try<void> each_allotment(const std::function<void(const AllotmentRow&)>& take);
  Try<void> each_order(const std::function<void(const OrderRow&)>& take); // every revision
  Try<void> each_entry(const std::function<void(const EntryRow&)>& take);
  Try<std::vector<RangeRow>> ranges(); // all but those of allotments
  Try<std::vector<WindowRow>> windows();
  Try<std::vector<Enrolled>> stations();
  Try<Head> head();
  Try<format::Digest> owner();

  // The whole register: SQLite's own check, the chain, every row against its entry, sums. What is
  // wrong, in words; empty: sound.
  Try<std::vector<std::string>> check();

private:
  Register(io::System& system, Database database)
      : system_(&system), database_(std::move(database)) {}

  // A step that changes the register: the write lock is held until `finish` or the end of it.
  struct Step {
    Transaction transaction;
    Head head;
  };
  Try<Step> begin();
  Try<void> note_fate_in(Step& step, const format::CardId& card, const FateNote& note);
  Try<void> settle_in(Step& step, const Settlement& settled);
  Try<void> link_in(Step& step, const Settlement& settled, const std::string& work_order);
  Try<void> finish(Step& step);
  // Why this history is not the newest one; empty: as far as is known, it is.
  Try<std::string> why_older(const Head& head);

  io::System* system_;
  Database database_;
};

} // namespace cardseal::registry
