#include "register/register.h"

#include <fmt/format.h>

#include "register/again.h"

namespace cardseal::registry {
namespace {

using Optional32 = format::Maybe<std::uint32_t>;

Try<std::uint64_t> units_of(Database& database, const format::Digest& manifest,
                            const format::Id& station) {
  REG_TRY(query, database.query("SELECT units FROM tally WHERE manifest = ? AND station = ?"));
  REG_TRY(row, query.bind(manifest).bind(station.view()).next());
  return row ? query.number(0) : 0;
}

// Never more than a limit can be, so that counting stays bounded.
Try<std::uint64_t> stations_of(Database& database, const format::Digest& manifest,
                               std::uint64_t most) {
  REG_TRY(query, database.query("SELECT count(*) FROM (SELECT 1 FROM tally WHERE manifest = ? "
                                "LIMIT ?)"));
  REG_TRY(row, query.bind(manifest).bind(most).next());
  return row ? query.number(0) : 0;
}

// What quality signed holds for all cards of the package together.
Try<void> check_limits(Database& database, const SetRequest& set, const CardRequest& card) {
  REG_TRY(units, units_of(database, set.manifest, card.station));
  const Optional32& most_units = set.limits.units_a_station;
  if (most_units.present && units + card.units > most_units.value) {
    return Unexpected(refused(
        "limit-units", "more units than quality allows for one station",
        fmt::format("{} given to {} before, {} more now", units, card.station.view(), card.units),
        fmt::format("{} in all", most_units.value),
        "use another station, or have quality sign again with another --units-a-station"));
  }
  const Optional32& most = set.limits.stations;
  if (most.present && units == 0) {
    REG_TRY(stations, stations_of(database, set.manifest, std::uint64_t{most.value} + 1));
    if (stations >= most.value) {
      return Unexpected(
          refused("limit-stations", "more stations than quality allows",
                  fmt::format("{} have cards, and {} more now", stations, card.station.view()),
                  fmt::format("{} in all", most.value),
                  "use a station that has a card of this release, or have quality "
                  "sign again with another --stations"));
    }
  }
  return {};
}

Try<void> count_units(Database& database, const SetRequest& set, const CardRequest& card) {
  REG_TRY(insert, database.query("INSERT INTO tally(manifest, station, units) VALUES(?, ?, ?) ON "
                                 "CONFLICT DO UPDATE SET units = units + excluded.units"));
  return insert.bind(set.manifest).bind(card.station.view()).bind(std::uint64_t{card.units}).run();
}

Try<void> insert_lot(Database& database, Head& head, AllotmentRow& row, std::uint64_t quantity) {
  REG_DO(append(database, head, lot_body(head.entries + 1, row, quantity)));
  REG_TRY(insert, database.query("INSERT INTO lot(work_order, class, manifest, product, quantity, "
                                 "entry) VALUES(?, ?, ?, ?, ?, ?)"));
  REG_DO(insert.bind(row.work_order)
             .bind(row.work_class)
             .bind(row.manifest)
             .bind(row.product)
             .bind(quantity)
             .bind(head.entries)
             .run());
  row.lot = database.last_row();
  return {};
}

// Each place of an order gets its cards once, however often it is asked for.
Try<void> insert_place(Database& database, Head& head, const AllotmentRow& row,
                       const std::string& place) {
  REG_DO(check_note(place, "the place in the order"));
  REG_TRY(query, database.query("SELECT 1 FROM place WHERE work_order = ? AND name = ?"));
  REG_TRY(known, query.bind(row.work_order).bind(place).next());
  if (known) {
    return Unexpected(refused("place-taken", "this place of the order has its cards",
                              fmt::format("place {} of {}", place, row.work_order), "a new place",
                              "for more boards add a <card> with a place of its own"));
  }
  REG_DO(append(database, head, place_body(head.entries + 1, row.lot, row.work_order, place)));
  REG_TRY(insert,
          database.query("INSERT INTO place(work_order, name, lot, entry) VALUES(?, ?, ?, ?)"));
  return insert.bind(row.work_order).bind(place).bind(row.lot).bind(head.entries).run();
}

Try<bool> card_known(Database& database, const format::CardId& card) {
  REG_TRY(query, database.query("SELECT 1 FROM allotment WHERE card = ?"));
  return query.bind(card).next();
}

// `joined`: the card that another package's share went on in the same step.
Try<void> choose_card(Database& database, const Head& head, const CardRequest& request,
                      const Body& body, const std::optional<format::CardId>& joined,
                      AllotmentRow& row) {
  if (joined) {
    row.card = *joined;
    return {};
  }
  row.card = request.card.value_or(card_of(head.digest, body));
  REG_TRY(known, card_known(database, row.card));
  if (known) {
    return Unexpected(refused("card-id-used", "this card id was given before",
                              crypto::hex(row.card), "one that is new",
                              "leave --card-id out: one is made"));
  }
  return {};
}

Try<void> insert_allotment(Database& database, const Head& head, const AllotmentRow& row,
                           const std::optional<std::uint64_t>& range) {
  REG_TRY(insert,
          database.query("INSERT INTO allotment(id, lot, range, card, station, enrolment, serial, "
                         "units, slots, date_code, spare, entry) "
                         "VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"));
  insert.bind(row.id).bind(row.lot);
  range ? insert.bind(*range) : insert.bind_null();
  insert.bind(row.card).bind(row.station).bind(row.enrolment).bind(row.serial).bind(row.units);
  insert.bind(row.enabled_slots);
  row.date_code ? insert.bind(*row.date_code) : insert.bind_null();
  return insert.bind(std::uint64_t{row.spare}).bind(head.entries).run();
}

AllotmentRow start_row(const SetRequest& set) {
  AllotmentRow row;
  row.manifest = set.manifest;
  row.product = set.product.view();
  row.work_class = format::work_class_words[static_cast<std::size_t>(set.work_class)];
  row.work_order = set.work_order.view();
  if (set.scheme.present) {
    row.scheme = set.scheme.value.view();
  }
  if (set.date_code.present) {
    row.date_code = set.date_code.value.view();
  }
  return row;
}

void fill_row(AllotmentRow& row, const CardRequest& card, const Enrolled& station,
              std::uint64_t id) {
  row.id = id;
  row.station = card.station.view();
  row.enrolment = station.enrolment;
  row.serial = station.next_serial;
  row.units = card.units;
  row.enabled_slots = card.enabled_slots;
  row.spare = card.spare;
  row.numbers = card.numbers;
  row.again = card.again;
}

Try<Reserved> reserve_card(Database& database, Head& head, const SetRequest& set,
                           const CardRequest& card, const std::optional<format::CardId>& joined,
                           AllotmentRow& row) {
  REG_DO(check_limits(database, set, card));
  REG_TRY(station, station_now(database, card.station));
  REG_DO(check_serial(card.station, station.next_serial));
  REG_TRY(last, database.number("SELECT coalesce(max(id), 0) FROM allotment"));
  fill_row(row, card, station, last + 1);
  std::optional<Place> place;
  if (card.numbers != format::Numbers::fresh) {
    REG_DO(check_again(database, set, card));
    row.range = {card.again.front().first, card.units};
  } else if (set.scheme.present) {
    REG_TRY(found, find_place(database, {*row.scheme, card.units, set.capacity, set.permitted,
                                         set.limits.numbers}));
    place = found;
    row.range = found.range;
  }
  Body body = allotment_body(head.entries + 1, row);
  REG_DO(choose_card(database, head, card, body, joined, row));
  REG_DO(append(database, head, body.hex("card", row.card)));
  std::optional<std::uint64_t> range;
  if (place) {
    REG_TRY(id, insert_range(database, head, *place, Use::allot, ""));
    range = id;
  }
  REG_DO(insert_allotment(database, head, row, range));
  REG_DO(insert_again(database, row));
  REG_DO(count_units(database, set, card));
  return Reserved{row.id,     row.card,  static_cast<std::uint32_t>(row.enrolment),
                  row.serial, row.range, head.digest};
}

std::uint64_t quantity_of(const SetRequest& set) {
  std::uint64_t units = 0;
  for (const CardRequest& card : set.cards) {
    units += card.spare ? 0 : card.units;
  }
  return units;
}

// Where a work order has an order, its cards are made from it: by place, of its class and package.
Try<void> check_order_of(Database& database, const SetRequest& set, const AllotmentRow& row) {
  REG_TRY(query, database.query("SELECT class, manifest FROM work_order WHERE name = ? ORDER BY "
                                "revision DESC LIMIT 1"));
  REG_TRY(there, query.bind(row.work_order).next());
  if (!there) {
    return {};
  }
  format::Digest manifest{};
  (void)query.bytes_into(1, manifest); // the table allows no other length
  const std::string work_class = query.text(0);
  if (!set.place.empty() && work_class == row.work_class && manifest == row.manifest) {
    return {};
  }
  return Unexpected(refused(
      "order-place", "the cards of this work order are made from its order",
      fmt::format("{} without a place in it, or of another class or package", row.work_order),
      "a card that the order names",
      "add it to the order, with a higher revision: cardseal lot cards"));
}

Try<AllotmentRow> start_lot(Database& database, Head& head, const SetRequest& set) {
  REG_TRY(added, registry::add_windows(database, head, set.permitted));
  (void)added;
  if (set.scheme.present) {
    REG_DO(keep_scheme(database, head, set.scheme.value, set.definition));
  }
  AllotmentRow row = start_row(set);
  REG_DO(check_lot_open(database, row.work_order));
  REG_DO(check_not_merged(database, row.work_order));
  REG_DO(check_order_of(database, set, row));
  REG_DO(insert_lot(database, head, row, quantity_of(set)));
  if (!set.place.empty()) {
    REG_DO(insert_place(database, head, row, set.place));
  }
  return row;
}

Error uneven(std::size_t found, std::size_t expected) {
  Error error = refused("set-uneven", "packages that share their cards have as many of them each",
                        fmt::format("{} cards", found), fmt::format("{} cards", expected), "");
  error.kind = ErrorKind::internal;
  return error;
}

} // namespace

Try<Register::GivenCards> Register::reserve_together(const std::vector<SetRequest>& sets,
                                                     const Look& look) {
  REG_TRY(step, begin());
  std::vector<AllotmentRow> rows;
  for (const SetRequest& set : sets) {
    if (set.cards.size() != sets.front().cards.size()) {
      return Unexpected(uneven(set.cards.size(), sets.front().cards.size()));
    }
    REG_TRY(row, start_lot(database_, step.head, set));
    rows.push_back(std::move(row));
  }
  GivenCards given(sets.empty() ? 0 : sets.front().cards.size());
  for (std::size_t i = 0; i < given.size(); ++i) {
    std::optional<format::CardId> card;
    for (std::size_t job = 0; job < sets.size(); ++job) {
      REG_TRY(reserved,
              reserve_card(database_, step.head, sets[job], sets[job].cards[i], card, rows[job]));
      card = reserved.card;
      given[i].push_back(reserved);
    }
  }
  for (const SetRequest& set : sets) {
    REG_DO(check_whole_size(database_, set.work_order.view()));
  }
  REG_TRY(answer, look ? look(given) : Try<Answer>(Answer::give));
  if (answer == Answer::give) {
    REG_DO(finish(step));
  }
  return given;
}

Try<std::vector<Reserved>> Register::reserve(const SetRequest& set, bool rehearse) {
  const auto answer = [rehearse](const GivenCards&) -> Try<Answer> {
    return rehearse ? Answer::undo : Answer::give;
  };
  REG_TRY(cards, reserve_together({set}, answer));
  std::vector<Reserved> given;
  given.reserve(cards.size());
  for (const std::vector<Reserved>& card : cards) {
    given.push_back(card.front());
  }
  return given;
}

} // namespace cardseal::registry
