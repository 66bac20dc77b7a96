// Whatever happens to cards and boards, every number that was issued is told exactly once, none
// leaves twice, and a lot is closed only when nothing is open. Random stories against a model that
// keeps what really happened.
#include <map>
#include <random>
#include <set>

#include <fmt/format.h>

#include "lot/close.h"
#include "unit/register/desk.h"

using namespace cardseal;
using namespace cardseal::registry;

namespace {

enum class Truth : std::uint8_t { untouched, failed, cut, good };
enum class Where : std::uint8_t { desk, out, back, lost, destroyed };

struct TrueCard { // one package's share of a card
  Reserved given;
  std::string work_order;
  std::size_t package = 0;
  std::uint32_t units = 0;
  std::uint64_t numbers = 0;        // the first one, told apart from those of other schemes
  std::vector<std::uint64_t> again; // of boards that come back with the numbers they have
  bool sealed = false;              // an image may be somewhere
  bool noted = false;               // that it went onto a card
  bool counted = false;             // after it came back
  Where where = Where::desk;
  std::vector<Truth> truth;
  std::vector<Truth> reported;
  std::map<std::uint64_t, Settled> settled;

  std::uint64_t number_of(std::uint64_t unit) const {
    return again.empty() ? numbers + unit : again[unit];
  }
  std::optional<std::uint64_t> unit_of(std::uint64_t number) const {
    for (std::uint64_t unit = 0; unit < units; ++unit) {
      if (number_of(unit) == number) {
        return unit;
      }
    }
    return std::nullopt;
  }
};

struct Board {
  std::set<std::uint64_t> numbers;
  std::uint64_t now = 0; // the one that it carries
};

bool is_begun(Truth truth) {
  return truth != Truth::untouched;
}

class Story {
public:
  explicit Story(std::uint32_t seed) : chance_(seed), numbers_(desk_.open()) {
    for (const char* station : {"quay-1", "quay-2"}) {
      (void)must(numbers_.enrol({test::id(station), false, std::nullopt, 1}));
    }
    for (const std::uint8_t digest : {std::uint8_t{7}, other_package}) {
      packages_.emplace_back();
      packages_.back().manifest_digest.fill(digest);
    }
    enter_order();
  }

  void run(int steps) {
    for (int i = 0; i < steps; ++i) {
      step();
      for (const std::string& order : orders_) {
        check(order);
      }
    }
    wind_up();
    CHECK(desk_.problems().empty());
  }
  std::size_t closed() const { return closed_.size(); }
  std::size_t refused_closures() const { return refused_; }
  std::size_t reworked() const { return reworked_; }
  std::size_t sent_again() const { return again_; }
  std::size_t of_several() const { return several_; }
  std::size_t conceded() const { return conceded_; }
  std::size_t round_the_order() const { return round_; }
  std::size_t kept() const { return kept_; }
  std::size_t not_kept() const { return not_kept_; }
  std::size_t merged() const { return merged_.size(); }
  std::size_t closed_with_parts() const { return closed_with_parts_; }

private:
  std::uint64_t below(std::uint64_t bound) {
    return std::uniform_int_distribution<std::uint64_t>(0, bound - 1)(chance_);
  }
  bool one_in(std::uint64_t n) { return below(n) == 0; }

  void step() {
    switch (below(12)) {
    case 10:
      return concede();
    case 11:
      return one_in(6) ? enter_order() : one_in(3) ? merge() : settle();
    case 0:
      return one_in(3) ? keep_numbers() : make_cards();
    case 1:
    case 2:
      return work();
    case 3:
      return send();
    case 4:
      return copy_of_a_log();
    case 5:
    case 6:
      return bring_back();
    case 7:
      return settle();
    case 8:
      return lose();
    default:
      return close(orders_[below(orders_.size())]);
    }
  }

  // Everything is fetched, counted and settled; then nothing keeps a lot open.
  void wind_up() {
    for (TrueCard& card : cards_) {
      if (is_closed(card.work_order)) {
        continue;
      }
      if (card.sealed && card.where == Where::desk) {
        send(card);
      }
      if (card.where == Where::out) {
        fetch(card);
      }
      if (card.where == Where::back && !card.counted) {
        report(card, card.units);
        card.counted = true;
      }
      for (std::uint64_t unit = 0; unit < card.units; ++unit) {
        if (is_open(card, unit)) {
          settle(card, unit, Settled::scrapped);
        }
      }
    }
    for (const std::string& order : orders_) {
      close(order);
      check(order);
      const bool any = std::any_of(cards_.begin(), cards_.end(),
                                   [&](const TrueCard& card) { return card.work_order == order; });
      CHECK((!any || is_closed(order) || merged_.count(order) != 0));
    }
    for (const auto& [order, whole] : merged_) {
      CHECK(is_closed(order));
    }
  }

  TrueCard* any_card(const std::function<bool(const TrueCard&)>& fits) {
    std::vector<TrueCard*> some;
    for (TrueCard& card : cards_) {
      if (fits(card) && !is_closed(card.work_order)) {
        some.push_back(&card);
      }
    }
    return some.empty() ? nullptr : some[below(some.size())];
  }

  // The order that counts this one in the end.
  std::string whole_of(std::string order) const {
    for (auto next = merged_.find(order); next != merged_.end(); next = merged_.find(order)) {
      order = next->second;
    }
    return order;
  }
  bool is_closed(const std::string& order) const { return closed_.count(whole_of(order)) != 0; }
  bool takes(const std::string& order, const std::string& part) const {
    return part == order || (merged_.count(order) == 0 && whole_of(part) == order);
  }

  std::set<std::size_t> packages_of(const std::string& order) const {
    std::set<std::size_t> packages;
    for (const TrueCard& card : cards_) {
      if (card.work_order == order) {
        packages.insert(card.package);
      }
    }
    if (order == orders_.front()) {
      packages.insert(0);
    }
    return packages;
  }

  bool may_merge(const std::string& order, const std::string& whole) const {
    const std::set<std::size_t> some = packages_of(order);
    const std::set<std::size_t> all = packages_of(whole);
    // Only the first one was ever entered, and an order goes into none without.
    return order != whole && order != orders_.front() && is_rework(order) == is_rework(whole) &&
           !some.empty() && !is_closed(order) && !is_closed(whole) && merged_.count(order) == 0 &&
           merged_.count(whole) == 0 &&
           std::includes(all.begin(), all.end(), some.begin(), some.end());
  }

  void merge() {
    std::string order;
    std::string whole;
    for (int tries = 0; tries < 4 && !may_merge(order, whole); ++tries) { // mostly one that may be
      order = orders_[below(orders_.size())];
      whole = orders_[below(orders_.size())];
    }
    const bool may = may_merge(order, whole);
    INFO(order << " into " << whole);
    CHECK(numbers_.merge({order, whole, "planner", "one delivery", ""}).has_value() == may);
    if (may) {
      merged_[order] = whole;
    }
  }

  // The first work order has an order, whose revisions follow one another.
  void enter_order() {
    OrderRow order;
    order.work_order = orders_.front();
    order.revision = ++revision_;
    order.work_class = "production";
    order.manifest.fill(7);
    order.product = "frost-node";
    order.quantity = 5000 + revision_;
    const bool open = !is_closed(order.work_order) && merged_.count(order.work_order) == 0;
    CHECK(numbers_.enter_order(order).has_value() == open);
    revision_ -= open ? 0U : 1U;
    if (revision_ > 1) {
      order.revision = revision_ - 1; // what is older than the newest is taken by nobody
      CHECK_FALSE(numbers_.enter_order(order).has_value());
    }
  }

  // Cards of one package, or of two that share each card.
  std::vector<SetRequest> requests(const std::string& order, bool two) {
    const std::size_t cards = 1 + below(2);
    std::vector<SetRequest> out{request_of(cards, 1, {window_of(0, 9999)})};
    if (two) {
      out.push_back(out.front());
      SetRequest& other = out.back();
      other.manifest.fill(other_package);
      other.product = test::id("rime-node");
      format::Window window = window_of(0, 9999);
      window.scheme = test::id("rn-serial");
      other.scheme.set(window.scheme);
      other.permitted = {window};
    }
    for (SetRequest& request : out) {
      request.work_order = test::text<24>(order);
      for (std::size_t i = 0; i < cards; ++i) {
        request.cards[i].units = static_cast<std::uint32_t>(1 + below(11));
        request.cards[i].station = out.front().cards[i].station;
        request.cards[i].spare = one_in(4);
      }
    }
    return out;
  }

  static bool is_rework(const std::string& order) { return order.starts_with("RW"); }

  // The board is on a later card under the number that it has: there it is counted.
  bool is_taken_back(const TrueCard& card, std::uint64_t unit) const {
    return std::any_of(cards_.begin(), cards_.end(), [&](const TrueCard& later) {
      return later.given.allotment > card.given.allotment && later.sealed && !later.again.empty() &&
             later.unit_of(card.number_of(unit)).has_value();
    });
  }

  // Begun by a log, on no card that may be worked on, and nobody said that the board is gone.
  bool may_come_back(std::uint64_t number) const {
    bool begun = false;
    for (const TrueCard& card : cards_) {
      const std::optional<std::uint64_t> unit = card.unit_of(number);
      if (!unit) {
        continue;
      }
      const auto settled = card.settled.find(*unit);
      const bool ended = card.again.empty() || !card.sealed || card.counted ||
                         card.where == Where::lost || card.where == Where::destroyed;
      if (!ended || (settled != card.settled.end() && settled->second != Settled::conceded)) {
        return false;
      }
      begun = begun || (card.again.empty() && is_begun(card.reported[*unit]));
    }
    return begun;
  }

  // A card of class rework for boards that keep their numbers: mostly such as may come back.
  void keep_numbers() {
    const std::string& order = orders_[orders_.size() - 1 - below(2)];
    std::set<std::uint64_t> numbers;
    for (int tries = 0; tries < 30 && numbers.size() < 3; ++tries) {
      const std::uint64_t number = below(issued_.empty() ? 1 : issued_.size() + 3);
      if (may_come_back(number) || one_in(60)) {
        numbers.insert(number);
      }
    }
    if (numbers.empty()) {
      return;
    }
    SetRequest request =
        request_of(1, static_cast<std::uint32_t>(numbers.size()), {window_of(0, 9999)});
    request.work_order = test::text<24>(order);
    request.work_class = format::WorkClass::rework;
    request.cards[0].station = test::id("quay-1");
    request.cards[0].numbers = format::Numbers::kept;
    for (const std::uint64_t number : numbers) {
      std::vector<Range>& spans = request.cards[0].again;
      if (!spans.empty() && spans.back().past() == number) {
        ++spans.back().count;
      } else {
        spans.push_back({number, 1});
      }
    }
    const bool may = !is_closed(order) && merged_.count(order) == 0 &&
                     std::all_of(numbers.begin(), numbers.end(),
                                 [&](std::uint64_t number) { return may_come_back(number); });
    const Try<std::vector<std::vector<Reserved>>> given = numbers_.reserve_together({request});
    INFO((given ? std::string("done") : describe(given.error())));
    CHECK(given.has_value() == may);
    (may ? kept_ : not_kept_) += 1;
    if (given) {
      check_boards(numbers);
      take_card(given->front(), {request}, 0, order,
                std::vector<std::uint64_t>(numbers.begin(), numbers.end()));
    }
  }

  // Each number that comes back is what one board carries.
  void check_boards(const std::set<std::uint64_t>& numbers) const {
    for (const std::uint64_t number : numbers) {
      CHECK(std::count_if(boards_.begin(), boards_.end(),
                          [&](const auto& board) { return board->now == number; }) == 1);
    }
  }

  void make_cards() {
    const std::string& order = orders_[below(orders_.size() - 2)];
    const bool ordered = order == orders_.front();
    std::vector<SetRequest> sets = requests(order, one_in(3));
    for (std::size_t i = 0; i < sets.front().cards.size(); ++i) {
      const format::Id station = test::id(one_in(2) ? "quay-1" : "quay-2");
      for (SetRequest& set : sets) {
        set.cards[i].station = station;
      }
    }
    bool may = !is_closed(order) && merged_.count(order) == 0;
    if (ordered && !one_in(4)) {
      const bool again = places_ != 0 && one_in(5);
      sets.front().place = fmt::format("{}", again ? places_ : places_ + 1);
      may = may && !again && sets.size() == 1;
      places_ += may ? 1U : 0U;
    } else if (ordered) { // by nobody's order
      may = false;
      ++round_;
    }
    const Try<std::vector<std::vector<Reserved>>> given = numbers_.reserve_together(sets);
    INFO((given ? std::string("done") : describe(given.error())));
    CHECK(given.has_value() == may);
    for (std::size_t i = 0; given && i < given->size(); ++i) {
      take_card((*given)[i], sets, i, order);
    }
  }

  void take_card(const std::vector<Reserved>& given, const std::vector<SetRequest>& sets,
                 std::size_t index, const std::string& order,
                 const std::vector<std::uint64_t>& again = {}) {
    const bool sealed = !one_in(6); // else it fails before anything is signed
    const bool written = !one_in(6);
    several_ += given.size() > 1 ? 1U : 0U;
    for (std::size_t job = 0; job < given.size(); ++job) {
      TrueCard card;
      card.given = given[job];
      card.work_order = order;
      card.package = job;
      card.units = sets[job].cards[index].units;
      card.truth.resize(card.units);
      card.reported.resize(card.units);
      card.numbers = job * 1'000'000 + card.given.range.first; // of its own scheme
      card.again = again;
      for (std::uint64_t n = 0; again.empty() && n < card.units; ++n) {
        CHECK(issued_.insert(card.numbers + n).second); // no number leaves twice
      }
      card.sealed = sealed;
      if (sealed) {
        must(numbers_.seal(card.given,
                           format::Digest{static_cast<std::uint8_t>(cards_.size()),
                                          static_cast<std::uint8_t>(cards_.size() >> 8)}));
      }
      if (sealed && written) { // else nobody saw whether its image was written
        must(numbers_.written(card.given.allotment));
      }
      cards_.push_back(std::move(card));
    }
  }

  // What becomes of a card becomes of every package on it.
  void each_on(const TrueCard& card, const std::function<void(TrueCard&)>& change) {
    const format::CardId id = card.given.card;
    for (TrueCard& other : cards_) {
      if (other.given.card == id) {
        change(other);
      }
    }
  }
  bool none_on(const TrueCard& card, const std::function<bool(const TrueCard&)>& is) const {
    return std::none_of(cards_.begin(), cards_.end(), [&](const TrueCard& other) {
      return other.given.card == card.given.card && is(other);
    });
  }

  void send() {
    TrueCard* card = any_card([](const TrueCard& c) { return c.sealed && c.where == Where::desk; });
    if (card != nullptr) {
      send(*card);
    }
  }
  void send(const TrueCard& card) {
    must(numbers_.note_fate(card.given.card, {Fate::on_card, "desk", "written"}));
    each_on(card, [](TrueCard& each) {
      each.where = Where::out;
      each.noted = true;
    });
  }

  // A few boards at the station; the power may go in the middle. Reworked boards come here, too: a
  // board that failed elsewhere gets a number of this card.
  void work() {
    TrueCard* card = any_card([](const TrueCard& c) { return c.where == Where::out; });
    if (card == nullptr) {
      return;
    }
    std::uint64_t boards = 1 + below(4);
    for (std::uint64_t unit = 0; unit < card->units && boards > 0; ++unit) {
      if (is_begun(card->truth[unit])) {
        continue;
      }
      --boards;
      const std::uint64_t fate = below(8);
      card->truth[unit] = fate == 0 ? Truth::cut : fate == 1 ? Truth::failed : Truth::good;
      if (card->again.empty()) {
        give_to_a_board(card->number_of(unit));
      }
    }
  }

  void give_to_a_board(std::uint64_t number) {
    if (!waiting_.empty()) {
      Board* board = waiting_.back();
      waiting_.pop_back();
      board->numbers.insert(number);
      board->now = number;
      ++reworked_;
      return;
    }
    boards_.push_back(std::make_unique<Board>());
    boards_.back()->numbers.insert(number);
    boards_.back()->now = number;
  }

  void report(TrueCard& card, std::uint64_t known) {
    io::Bytes begun((card.units + 7) / 8);
    io::Bytes good(begun.size());
    std::uint64_t seen = 0;
    for (std::uint64_t unit = 0; unit < card.units; ++unit) {
      if (!is_begun(card.truth[unit]) || seen++ >= known) {
        continue;
      }
      const auto bit = static_cast<std::uint8_t>(1U << unit % 8);
      begun[unit / 8] |= bit;
      good[unit / 8] |= card.truth[unit] == Truth::good ? bit : std::uint8_t{0};
      card.reported[unit] = card.truth[unit];
    }
    must(numbers_.add_outcome(card.given.allotment, begun, good));
  }

  // Somebody sends a copy from the middle of a day; reading one twice changes nothing.
  void copy_of_a_log() {
    TrueCard* card =
        any_card([](const TrueCard& c) { return c.where == Where::out || c.where == Where::lost; });
    if (card == nullptr) {
      return;
    }
    report(*card, below(card->units + 1));
    const Head before = must(numbers_.head());
    const auto bits = must(numbers_.results_of(card->given.allotment));
    must(numbers_.add_outcome(card->given.allotment, bits->begun, bits->good));
    CHECK(must(numbers_.head()).entries == before.entries);
  }

  void fetch(const TrueCard& card) {
    must(numbers_.note_fate(card.given.card, {Fate::returned, "floor", "in the box"}));
    each_on(card, [](TrueCard& each) { each.where = Where::back; });
  }

  void bring_back() {
    if (one_in(2)) {
      TrueCard* card = any_card([](const TrueCard& c) { return c.where == Where::out; });
      if (card != nullptr) {
        fetch(*card);
      }
      return;
    }
    TrueCard* card =
        any_card([](const TrueCard& c) { return c.where == Where::back && !c.counted; });
    if (card != nullptr) {
      report(*card, card->units);
      card->counted = true;
    }
  }

  // An unused card is written over, and its image goes on another one.
  bool send_again() {
    TrueCard* card = any_card([&](const TrueCard& c) {
      return c.where == Where::back && none_on(c, [](const TrueCard& each) {
               return std::any_of(each.reported.begin(), each.reported.end(), is_begun) ||
                      std::any_of(each.truth.begin(), each.truth.end(), is_begun);
             });
    });
    if (card == nullptr) {
      return false;
    }
    must(numbers_.note_fate(card->given.card, {Fate::erased, "desk", "written over"}));
    must(numbers_.note_fate(card->given.card, {Fate::on_card, "desk", "another one"}));
    each_on(*card, [](TrueCard& each) {
      each.where = Where::out;
      each.counted = false;
    });
    ++again_;
    return true;
  }

  void lose() {
    if (one_in(3) && send_again()) {
      return;
    }
    TrueCard* card = any_card([](const TrueCard& c) { return c.where == Where::out; });
    if (card != nullptr && one_in(2)) {
      const bool broken = one_in(2);
      must(numbers_.note_fate(card->given.card,
                              {broken ? Fate::destroyed : Fate::lost, "floor", "looked for it"}));
      each_on(*card, [&](TrueCard& each) { each.where = broken ? Where::destroyed : Where::lost; });
    }
  }

  void settle() {
    TrueCard* card = any_card([](const TrueCard&) { return true; });
    if (card == nullptr) {
      return;
    }
    std::uint64_t unit = below(card->units);
    for (std::uint64_t tries = 0; tries < 8 && !is_begun(card->reported[unit]); ++tries) {
      unit = below(card->units); // mostly one about which there is something to say
    }
    settle(*card, unit,
           static_cast<Settled>(std::min<std::uint64_t>(below(4), 2))); // mostly rework
  }

  void settle(TrueCard& card, std::uint64_t unit, Settled what) {
    const Truth known = card.reported[unit];
    const bool may = is_begun(known) && card.settled.count(unit) == 0 &&
                     !is_taken_back(card, unit) &&
                     (what != Settled::no_board || known != Truth::good);
    const Try<void> done =
        numbers_.settle({card.given.allotment, {unit, 1}, what, "floor", "seen", ""});
    INFO("unit " << unit << " of allotment " << card.given.allotment);
    CHECK(done.has_value() == may);
    if (!done) {
      return;
    }
    card.settled[unit] = what;
    if (what == Settled::reworked) {
      for (const auto& board : boards_) {
        if (board->now == card.number_of(unit)) {
          waiting_.push_back(board.get());
        }
      }
    }
  }

  // Quality signs for a run of units: kept whole or not at all, and a good one is in none.
  void concede() {
    TrueCard* card = any_card([&](const TrueCard& c) { return open_units(c) != 0 || one_in(8); });
    if (card == nullptr) {
      return;
    }
    std::vector<Settlement> settled;
    bool may = true;
    std::uint64_t first = below(card->units);
    for (std::uint64_t tries = 0; tries < 8 && !is_open(*card, first); ++tries) {
      first = below(card->units); // mostly one that may be
    }
    for (std::uint64_t unit = first; unit < card->units && unit <= first + below(2); ++unit) {
      may = may && is_open(*card, unit);
      settled.push_back(
          {card->given.allotment, {unit, 1}, Settled::conceded, "omar", "concession CN-1", ""});
    }
    Statement statement;
    statement.kind = StatementKind::concession;
    // Quality speaks of the order that counts it.
    statement.work_order = one_in(4) ? card->work_order : whole_of(card->work_order);
    may = may && merged_.count(statement.work_order) == 0;
    statement.text = {2};
    const Head before = must(numbers_.head());
    CHECK(numbers_.keep_statement(statement, settled).has_value() == may);
    if (!may) {
      CHECK(must(numbers_.head()).digest == before.digest);
      return;
    }
    for (const Settlement& each : settled) {
      card->settled[each.units.first] = Settled::conceded;
      ++conceded_;
    }
  }

  bool is_open(const TrueCard& card, std::uint64_t unit) const {
    const Truth known = card.reported[unit];
    return is_begun(known) && known != Truth::good && card.settled.count(unit) == 0 &&
           !is_taken_back(card, unit);
  }

  std::uint64_t open_units(const TrueCard& card) const {
    std::uint64_t open = 0;
    for (std::uint64_t unit = 0; unit < card.units; ++unit) {
      open += is_open(card, unit) ? 1U : 0U;
    }
    return open;
  }

  bool may_close(const std::string& order) const {
    bool any = false;
    for (const TrueCard& card : cards_) {
      if (!takes(order, card.work_order)) {
        continue;
      }
      any = true;
      const bool away = (card.sealed && !card.noted) || card.where == Where::out ||
                        (card.where == Where::back && !card.counted);
      if (away || open_units(card) != 0) {
        return false;
      }
    }
    return any && !is_closed(order) && merged_.count(order) == 0;
  }

  void close(const std::string& order) {
    const Try<lot::Account> account = lot::account_of(numbers_, order);
    if (!account) {
      CHECK(account.error().code == "work-order-unknown");
      return;
    }
    const Head head = must(numbers_.head());
    const Try<format::Close> text = lot::close_text(numbers_, {*account, packages_, head, {}});
    CHECK(text.has_value() == may_close(order));
    if (!text) {
      ++refused_;
      return;
    }
    CHECK(format::adds_up(*text));
    Statement statement;
    statement.kind = StatementKind::closure;
    statement.work_order = order;
    statement.text = {1};
    if (one_in(3)) { // somebody else was quicker
      const Try<void> moved = numbers_.keep_statement(statement, {}, Head{head.entries - 1, {}});
      CHECK(code_of(moved) == "register-moved");
    }
    must(numbers_.keep_statement(statement, {}, head));
    closed_.insert(order);
    closed_with_parts_ += account->parts.empty() ? 0U : 1U;
  }

  // What the model knows of one unit against the account's counts.
  void expect(const TrueCard& card, std::uint64_t unit, format::UnitCounts& counts,
              std::uint64_t& open) const {
    const auto settled = card.settled.find(unit);
    const bool shown_good = card.reported[unit] == Truth::good; // a log that came later
    if (settled != card.settled.end() && !(settled->second == Settled::no_board && shown_good)) {
      (settled->second == Settled::scrapped   ? counts.scrapped
       : settled->second == Settled::no_board ? counts.no_board
       : settled->second == Settled::conceded ? counts.conceded
                                              : counts.reworked) += 1;
    } else if (is_taken_back(card, unit)) {
      ++counts.reworked;
    } else if (shown_good) {
      ++counts.good;
    } else if (is_begun(card.reported[unit])) {
      ++open;
    } else if (!card.sealed || card.counted) {
      CHECK(!is_begun(card.truth[unit])); // nothing that is told as unused was begun
      ++counts.unused;
    } else {
      ++counts.unknown;
    }
  }

  void check(const std::string& order) {
    const Try<lot::Account> account = lot::account_of(numbers_, order);
    if (!account) {
      return;
    }
    format::UnitCounts counts;
    std::uint64_t open = 0;
    std::uint64_t issued = 0;
    for (const TrueCard& card : cards_) {
      for (std::uint64_t unit = 0; takes(order, card.work_order) && unit < card.units; ++unit) {
        expect(card, unit, counts, open);
        ++issued;
      }
    }
    const format::UnitCounts& told = account->units;
    CHECK(account->issued == issued);
    CHECK(told.sum() + account->open == issued); // each exactly once
    CHECK(told == counts);
    CHECK(account->open == open);
    CHECK(account->shippable() == counts.good + counts.conceded);
    CHECK(account->closable() == may_close(order));
  }

  std::mt19937 chance_;
  Desk desk_;
  Register numbers_;
  static constexpr std::uint8_t other_package = 8;
  std::vector<package::Package> packages_;
  const std::vector<std::string> orders_{"WO-1", "WO-2", "WO-3", "WO-4", "RW-1", "RW-2"};
  std::vector<TrueCard> cards_;
  std::set<std::uint64_t> issued_;
  std::vector<std::unique_ptr<Board>> boards_;
  std::vector<Board*> waiting_; // for rework
  std::set<std::string> closed_;
  std::map<std::string, std::string> merged_;
  std::size_t closed_with_parts_ = 0;
  std::size_t kept_ = 0;     // cards of boards that keep their numbers
  std::size_t not_kept_ = 0; // such cards that were refused
  std::size_t refused_ = 0;
  std::size_t reworked_ = 0;
  std::size_t again_ = 0;
  std::uint64_t revision_ = 0;
  std::uint64_t places_ = 0;
  std::size_t several_ = 0;  // cards of two packages
  std::size_t conceded_ = 0; // units
  std::size_t round_ = 0;    // cards that went round their order, and were refused
};

} // namespace

TEST_CASE(
    "every number that was issued is told exactly once, whatever happens to cards and boards") {
  std::size_t closed = 0;
  std::size_t refused = 0;
  std::size_t reworked = 0;
  std::size_t again = 0;
  std::size_t several = 0;
  std::size_t conceded = 0;
  std::size_t round = 0;
  std::size_t merged = 0;
  std::size_t kept = 0;
  std::size_t not_kept = 0;
  std::size_t with_parts = 0;
  for (std::uint32_t seed = 1; seed <= 12; ++seed) {
    INFO("seed " << seed);
    Story story(seed);
    story.run(200);
    closed += story.closed();
    refused += story.refused_closures();
    reworked += story.reworked();
    again += story.sent_again();
    several += story.of_several();
    conceded += story.conceded();
    round += story.round_the_order();
    merged += story.merged();
    kept += story.kept();
    not_kept += story.not_kept();
    with_parts += story.closed_with_parts();
  }
  // Stories that never close, are never refused or never rework would show nothing.
  CHECK(closed >= 20);
  CHECK(refused >= 20);
  CHECK(reworked >= 5);
  CHECK(again >= 3);
  CHECK(several >= 10);
  CHECK(conceded >= 5);
  CHECK(round >= 5);
  CHECK(merged >= 5);
  CHECK(kept >= 10);
  CHECK(not_kept >= 5);
  CHECK(with_parts >= 3);
}
