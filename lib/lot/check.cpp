#include "lot/check.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "job/release_xml.h"
#include "lot/boards.h"

namespace cardseal::lot {
namespace {

// One of whose boards may be the first article, or become it: not one that is gone, or came back
// without a good board. Without such a card another one is made.
bool has_first_card(const Account& account) {
  return std::any_of(account.cards.begin(), account.cards.end(), [&](const CardAccount& card) {
    const bool gone = card.standing == Standing::lost || card.standing == Standing::destroyed ||
                      card.standing == Standing::not_made || card.standing == Standing::counted;
    return account.is_own(card) && (!gone || card.counts.good != 0);
  });
}

constexpr std::string_view not_ship = "NOT SHIP"; // how an engineering package's title begins

class Checking {
public:
  Checking(const Order& order, const package::Package& package, const Account* account,
           const profile::Device* device)
      : order_(order), manifest_(package.manifest), digest_(package.manifest_digest),
        account_(account), device_(device) {}

  std::vector<Error> run() {
    check_release();
    check_class();
    check_silicon();
    check_boards();
    for (const OrderCard& card : order_.cards) {
      check_card(card);
    }
    check_boards_once();
    if (account_ != nullptr) {
      check_history();
    }
    return std::move(errors_);
  }

private:
  void wrong(const char* code, const Place& place, std::string what, std::string found,
             std::string expected, std::string hint) {
    errors_.push_back(
        refused(code, std::move(what), std::move(found), std::move(expected), std::move(hint)));
    errors_.back().place = place;
  }

  void check_release() {
    const std::string ordered = fmt::format("{} {}", order_.product, order_.version);
    const std::string packed =
        fmt::format("{} {}", manifest_.product.view(), manifest_.release.view());
    if (ordered != packed) {
      wrong("order-release", order_.release_place, "the order is for another release", ordered,
            packed, "name the package that was ordered, or correct the order");
    }
    if (order_.board_revision != manifest_.board_revision) {
      wrong("order-board", order_.release_place, "the order is for another revision of the board",
            std::to_string(order_.board_revision),
            fmt::format("{}, which the package was made for", manifest_.board_revision),
            "a package for that revision has to be approved");
    }
  }

  void check_class() {
    const bool engineering = order_.work_class == format::WorkClass::engineering;
    const bool rework = order_.work_class == format::WorkClass::rework;
    if (engineering != manifest_.title.view().starts_with(not_ship)) {
      wrong("order-engineering", order_.place,
            "boards of class engineering never ship, and no others are made from their package",
            fmt::format("class {}, title {}", word_of_class(), manifest_.title.view()),
            "class engineering with a package whose title begins NOT SHIP, or neither",
            "use the package that was approved for this class");
    }
    if (manifest_.lock == format::Lock::permanent && (engineering || order_.first_article)) {
      wrong("order-lock", order_.place,
            "a board that is locked for good can't be read back or used again",
            fmt::format("lock permanent, {}",
                        engineering ? "class engineering" : "a first article is asked for"),
            "a package without a permanent lock", "approve the first article with such a package");
    }
    if (rework && (order_.parent.empty() || !order_.data_memory_may_be_lost)) {
      wrong("order-rework", order_.place, "a rework order does not say where its boards come from",
            order_.parent.empty() ? "no parent" : "nothing about their data memory",
            "a <parent>, and <data-memory may-be-lost=\"yes\"/>",
            "have somebody look whether the boards keep data that is still needed");
    }
    if (!rework && order_.data_memory_may_be_lost) {
      wrong("order-rework", order_.place, "only rework meets boards that hold data already",
            fmt::format("class {}", word_of_class()), "class rework", "correct the class");
    }
    check_date_code();
  }

  std::string_view word_of_class() const {
    return format::work_class_words[static_cast<std::size_t>(order_.work_class)];
  }

  // Stations compare the ID without its revision, so this is for whoever receives the devices.
  void check_silicon() {
    if (order_.silicon.empty()) {
      return;
    }
    const bool same = device_ != nullptr && device_->id == manifest_.device.view();
    if (!same) {
      wrong("order-silicon", order_.silicon.front().where,
            "revisions of the silicon are held against the device's profile",
            device_ == nullptr ? std::string("no profile") : device_->id,
            fmt::format("the profile of {}", manifest_.device.view()), "name it with --device");
      return;
    }
    std::string allowed;
    for (const profile::Silicon& known : known_silicon()) {
      allowed += known.allowed ? (allowed.empty() ? "" : ", ") + known.title : std::string();
    }
    for (const SiliconRevision& wanted : order_.silicon) {
      const bool fits = std::any_of(known_silicon().begin(), known_silicon().end(),
                                    [&](const profile::Silicon& known) {
                                      return known.allowed && known.title == wanted.title;
                                    });
      if (!fits) {
        wrong("order-silicon", wanted.where, "the device's profile does not allow this revision",
              wanted.title, allowed.empty() ? "none: the profile lists no revisions" : allowed,
              "correct it, or have the profile and a new package approved");
      }
    }
  }

  const std::vector<profile::Silicon>& known_silicon() const {
    static const std::vector<profile::Silicon> none;
    return device_->device_id ? device_->device_id->revisions : none;
  }

  void check_date_code() {
    const auto parts = manifest_.parts.view();
    const bool wanted = std::any_of(parts.begin(), parts.end(), [](const format::Part& part) {
      return part.kind == format::PartKind::date_code;
    });
    if (wanted == order_.date_code.empty()) {
      wrong("order-date-code", order_.place,
            wanted ? "the serial scheme has a date code, and the order states none"
                   : "the serial scheme has no date code",
            order_.date_code, wanted ? "a <date-code text=\"...\"/>" : "none",
            wanted ? "state it" : "leave it out");
    }
  }

  // What is on cards already, and what is to come. Of a card that another one takes over, only the
  // boards that it made count.
  void check_boards() {
    std::uint64_t units = 0;
    for (const OrderCard& card : order_.cards) {
      const bool made = account_ != nullptr && card_at(card.place) != nullptr;
      // Without a register, what takes over is taken for boards of the card that it takes over.
      const bool counts = account_ != nullptr || card.continues.empty();
      units += made || !counts ? 0 : card.units;
    }
    units += account_ == nullptr ? 0 : units_issued();
    const std::uint64_t allowed = order_.allowed() + allowed_of_parts();
    if (units > allowed) {
      wrong("order-boards", order_.boards_place, "its cards hold more units than are ordered",
            fmt::format("{} units", units),
            allowed == order_.allowed()
                ? fmt::format("{} boards and {} spares", order_.quantity, order_.spares)
                : fmt::format("{} boards and spares, those of merged orders among them", allowed),
            account_ == nullptr
                ? "correct the cards, or order more; with --register merged orders count"
                : "correct the cards, or order more");
    }
  }

  std::uint64_t units_issued() const {
    std::uint64_t units = 0;
    for (const CardAccount& card : account_->cards) {
      if (account_->is_own(card)) {
        units += is_taken_over(card.place) ? boards_there(card) : card.row.units;
      } else { // what a merged order left, this one makes; what it scrapped is made up by spares
        units +=
            card.row.units - taken_here(card) - (is_ended(card) ? numbers_without_board(card) : 0);
      }
    }
    return units;
  }

  // Of these none is made again: a reworked one has another number, or is on a later card of
  // another lot; one on a later card of this lot is counted there.
  std::uint64_t boards_there(const CardAccount& card) const {
    return card.counts.good + card.counts.conceded + card.counts.reworked - taken_here(card);
  }

  std::uint64_t taken_here(const CardAccount& card) const {
    std::uint64_t units = 0;
    for (const registry::Range& back : card.taken_back) {
      for (std::uint64_t unit = back.first; unit < back.past(); ++unit) {
        units += is_counted_there(card, unit) && is_named_later(card.row, unit) ? 1U : 0U;
      }
    }
    return units;
  }

  // What somebody settled before holds over the later card.
  static bool is_counted_there(const CardAccount& card, std::uint64_t unit) {
    return std::none_of(card.settled.begin(), card.settled.end(),
                        [&](const registry::Settlement& settled) {
                          return settled.units.first <= unit && unit < settled.units.past();
                        });
  }

  bool is_named_later(const registry::AllotmentRow& row, std::uint64_t unit) const {
    const std::uint64_t ordinal = row.ordinal_of(unit);
    return std::any_of(account_->cards.begin(), account_->cards.end(),
                       [&](const CardAccount& later) {
                         return later.row.id > row.id && !later.row.again.empty() &&
                                later.row.state != registry::State::spent &&
                                later.row.unit_of(ordinal).has_value();
                       });
  }

  static std::uint64_t numbers_without_board(const CardAccount& card) {
    return card.counts.no_board + card.counts.unused + card.counts.unknown;
  }

  // One that was merged without an order was for the units of its cards.
  std::uint64_t allowed_of_parts() const {
    std::uint64_t units = 0;
    if (account_ != nullptr) {
      for (const Part& part : account_->parts) {
        units += part.order ? part.order->quantity + part.order->spares : part.issued;
      }
    }
    return units;
  }

  static bool is_ended(const CardAccount& card) {
    return card.standing == Standing::counted || card.standing == Standing::lost ||
           card.standing == Standing::destroyed || card.standing == Standing::not_made;
  }

  bool is_taken_over(const std::string& place) const {
    return std::any_of(order_.cards.begin(), order_.cards.end(), [&](const OrderCard& card) {
      return !card.continues.empty() && card.continues == place;
    });
  }

  bool same_boards(const OrderCard& listed, const registry::AllotmentRow& made) const {
    const Boards boards = boards_of(order_, listed, manifest_);
    return listed.numbers == made.numbers && boards.spans.count == made.again.size() &&
           std::equal(made.again.begin(), made.again.end(), boards.spans.items.begin(),
                      [](const registry::Range& one, const format::OrdinalRange& other) {
                        return one.first == other.first && one.past() == other.last + 1;
                      });
  }

  // A board is at one station at a time; another card may have it when its own broke down.
  void check_boards_once() {
    std::map<std::string, const OrderCard*> named;
    for (const OrderCard& card : order_.cards) {
      for (const auto& [serial, place] : card.boards) {
        const OrderCard*& before = named.emplace(serial, &card).first->second;
        if (before != &card && card.continues == before->place) {
          before = &card;
        } else if (before != &card) {
          wrong("order-board-serial", place, "this board stands on another card of the order",
                serial, "each board on one card", "leave one of them out");
        }
      }
    }
  }

  // Cards that are out can't be taken out of their order, nor be given other numbers.
  void check_places() {
    for (const CardAccount& card : account_->cards) {
      if (!account_->is_own(card)) {
        continue;
      }
      const auto listed =
          std::find_if(order_.cards.begin(), order_.cards.end(),
                       [&](const OrderCard& other) { return other.place == card.place; });
      if (listed == order_.cards.end()) {
        wrong("order-place", order_.place, "the order lacks a card that was made for it",
              card.place.empty() ? std::string("one without a place")
                                 : fmt::format("no place {}", card.place),
              "every place whose card was made", "put it back as it was");
      } else if (!same_boards(*listed, card.row)) {
        wrong("order-place", listed->where, "the card of this place was made for other boards", "",
              "the boards that it was made for", "put it back as it was, and add a place");
      } else if (listed->units != card.row.units || listed->station != card.row.station) {
        wrong("order-place", listed->where, "the card of this place was made otherwise",
              fmt::format("{} units for {}", listed->units, listed->station),
              fmt::format("{} units for {}", card.row.units, card.row.station),
              "put it back as it was, and add a place");
      }
    }
  }

  void check_card(const OrderCard& card) {
    const auto models = manifest_.station_models.view();
    if (std::none_of(models.begin(), models.end(),
                     [&](const format::Id& model) { return model.view() == card.model; })) {
      wrong("order-model", card.where, "the package was not checked for that station model",
            card.model, "a model that it names", "cardseal show lists its models");
    }
    std::uint32_t mask = 0;
    if (!card.slots.empty() &&
        (!job::parse_slots(card.slots, mask) || mask == 0 || (mask & ~manifest_.slots) != 0)) {
      wrong("order-slots", card.where, "these slots can't be enabled", card.slots,
            "some of those that the release permits, like 1-3,5",
            "cardseal show lists the permitted slots");
    }
    for (Error& error : boards_of(order_, card, manifest_).errors) {
      errors_.push_back(std::move(error));
    }
  }

  const CardAccount* card_at(const std::string& place) const {
    for (const CardAccount& card : account_->cards) {
      if (account_->is_own(card) && card.place == place) {
        return &card;
      }
    }
    return nullptr;
  }

  void check_history() {
    if (account_->merged) {
      wrong("order-merged", order_.place, "this order was merged into another one",
            fmt::format("{}, into {}", order_.work_order, account_->merged->whole),
            "an order of its own", fmt::format("add its cards to {}", account_->counted_in));
      return;
    }
    if (account_->closed()) {
      wrong("order-closed", order_.place, "this lot is closed", order_.work_order,
            "a work order that is open", "write a new order that names this one as its parent");
      return;
    }
    check_revision();
    check_places();
    for (const OrderCard& card : cards_to_make(order_, account_)) {
      check_continues(card);
    }
    check_first_article();
  }

  void check_revision() {
    if (!account_->order) {
      return;
    }
    const registry::OrderRow& kept = *account_->order;
    const bool changed = kept.file != crypto::sha256(order_.bytes);
    if (order_.revision < kept.revision || (order_.revision == kept.revision && changed)) {
      wrong("order-revision", order_.place,
            changed ? "the order was changed since its cards were made, and its revision was not"
                    : "the register has a later revision of this order",
            fmt::format("revision {}", order_.revision),
            fmt::format("revision {}{}", kept.revision + (changed ? 1U : 0U),
                        changed ? " or later" : ""),
            "raise the revision; or take the file that was used");
    }
    const bool other = kept.manifest != digest_ || kept.work_class != word_of_class() ||
                       kept.parent.value_or("") != order_.parent ||
                       (kept.first_article && !order_.first_article);
    if (other) {
      wrong("order-other", order_.place, "this revision changes what is made", "",
            "the package, class, parent and first article of the revision before",
            "give it a work order of its own");
    }
  }

  // Two stations that work on the same boards would both find them to do.
  void check_continues(const OrderCard& card) {
    if (card.continues.empty()) {
      return;
    }
    const CardAccount* before = card_at(card.continues);
    if (before == nullptr || !is_ended(*before)) {
      wrong("order-continues", card.where, "the card that this one takes over is not accounted for",
            before == nullptr
                ? fmt::format("place {}: no card was made", card.continues)
                : fmt::format("place {}: {}", card.continues,
                              standing_words[static_cast<std::size_t>(before->standing)]),
            "one that is back and counted, or noted as lost or destroyed",
            "cardseal card note, then cardseal reconcile");
      return;
    }
    const std::uint64_t left = before->row.units - boards_there(*before);
    std::uint64_t taken = 0; // by all that take over that card
    for (const OrderCard& other : order_.cards) {
      taken += other.continues == card.continues ? other.units : 0;
    }
    if (taken > left) {
      wrong("order-continues", card.where, "more units take over than the other card left",
            fmt::format("{} units", taken), fmt::format("at most {}", left),
            "give it fewer, or order more boards");
    }
  }

  void check_first_article() {
    if (!order_.first_article || account_->first_article || !has_first_card(*account_)) {
      return;
    }
    for (const OrderCard& card : cards_to_make(order_, account_)) {
      wrong("order-first-article", card.where,
            "no first article of this lot is signed, and the order asks for one before this card",
            fmt::format("place {}", card.place), "a first article that quality signed",
            "cardseal lot first-article");
    }
  }

  const Order& order_;
  const format::Manifest& manifest_;
  const format::Digest& digest_;
  const Account* account_;
  const profile::Device* device_;
  std::vector<Error> errors_;
};

} // namespace

std::vector<Error> check_order(const Order& order, const package::Package& package,
                               const Account* account, const profile::Device* device) {
  return Checking(order, package, account, device).run();
}

std::vector<OrderCard> cards_to_make(const Order& order, const Account* account) {
  std::vector<OrderCard> cards;
  for (const OrderCard& card : order.cards) {
    const bool made =
        account != nullptr &&
        std::any_of(account->cards.begin(), account->cards.end(), [&](const CardAccount& other) {
          return account->is_own(other) && other.place == card.place;
        });
    if (!made) {
      cards.push_back(card);
    }
  }
  // Before the first article, one card.
  const bool is_signed = account != nullptr && account->first_article;
  const bool has_card = account != nullptr && has_first_card(*account);
  if (order.first_article && !is_signed && !has_card && !cards.empty()) {
    cards.resize(1);
  }
  return cards;
}

registry::OrderRow row_of(const Order& order, const package::Package& package) {
  registry::OrderRow row;
  row.work_order = order.work_order;
  row.revision = order.revision;
  row.work_class = format::work_class_words[static_cast<std::size_t>(order.work_class)];
  row.manifest = package.manifest_digest;
  row.product = package.manifest.product.view();
  row.quantity = order.quantity;
  row.spares = order.spares;
  row.first_article = order.first_article;
  if (!order.parent.empty()) {
    row.parent = order.parent;
  }
  row.file = crypto::sha256(order.bytes);
  row.bytes = order.bytes;
  return row;
}

} // namespace cardseal::lot
