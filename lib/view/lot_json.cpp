#include "view/lot_json.h"

#include <algorithm>

#include "crypto/sha256.h"
#include "view/json_text.h"

namespace cardseal::view {
namespace {

Json counts_json(const format::UnitCounts& c) {
  return {{"good", c.good},         {"conceded", c.conceded}, {"scrapped", c.scrapped},
          {"reworked", c.reworked}, {"no_board", c.no_board}, {"unused", c.unused},
          {"unknown", c.unknown}};
}

// Places on the card, 1 the first.
Json range_json(const registry::Range& range) {
  return {{"first", range.first + 1}, {"last", range.past()}};
}

Json card_json(const lot::CardAccount& card) {
  const registry::AllotmentRow& row = card.row;
  Json out = {
      {"card", crypto::hex(row.card)},
      {"work_order", row.work_order},
      {"place", card.place.empty() ? Json() : Json(card.place)},
      {"station", row.station},
      {"spare", row.spare},
      {"units", row.units},
      {"first_ordinal", row.range.count == 0 ? Json() : Json(row.range.first)},
      {"standing", std::string(lot::standing_words[static_cast<std::size_t>(card.standing)])},
      {"stopped", row.stopped},
      {"counts", counts_json(card.counts)},
      {"labels", card.labels ? Json{{"printed", card.labels->printed},
                                    {"applied", card.labels->applied},
                                    {"scrapped", card.labels->scrapped},
                                    {"open", card.labels->open}}
                             : Json()},
      {"open", Json::array()},
      {"settled", Json::array()}};
  for (const registry::Range& range : card.open) {
    out["open"].push_back(range_json(range));
  }
  for (const registry::Settlement& settled : card.settled) {
    Json one = range_json(settled.units);
    one["as"] = std::string(registry::settled_words[static_cast<std::size_t>(settled.what)]);
    one["by"] = settled.by;
    one["note"] = settled.note;
    one["claimed_time"] = settled.time;
    out["settled"].push_back(std::move(one));
  }
  return out;
}

Json order_json(const std::optional<registry::OrderRow>& order) {
  if (!order) {
    return {};
  }
  return {{"revision", order->revision},
          {"class", order->work_class},
          {"manifest", crypto::spell_digest(order->manifest)},
          {"product", order->product},
          {"quantity", order->quantity},
          {"spares", order->spares},
          {"first_article", order->first_article},
          {"parent", order->parent ? Json(*order->parent) : Json()},
          {"file", crypto::spell_digest(order->file)},
          {"claimed_time", order->time}};
}

Json merge_json(const registry::Merge& merge) {
  return {{"work_order", merge.work_order},
          {"into", merge.whole},
          {"by", merge.by},
          {"note", merge.note},
          {"claimed_time", merge.time}};
}

Json summary_json(const lot::Account& account) {
  Json parts = Json::array();
  for (const lot::Part& part : account.parts) {
    parts.push_back(merge_json(part.merge));
  }
  return {{"work_order", account.work_order},
          {"order", order_json(account.order)},
          {"merged", account.merged ? merge_json(*account.merged) : Json()},
          {"counted_in", account.counted_in.empty() ? Json() : Json(account.counted_in)},
          {"merged_here", std::move(parts)},
          {"closed", account.closed()},
          {"closable", account.closable()},
          {"ordered", account.ordered},
          {"issued", account.issued},
          {"counts", counts_json(account.units)},
          {"open", account.open},
          {"shippable", account.shippable()}};
}

std::string time_of(const Utc& time) {
  char text[utc_length];
  return {text, spell_utc(time, text)};
}

// Who signed it and why; every kind has it.
template <class T>
void put_signer(Json& out, const T& text) {
  out["person"] = std::string(text.person.view());
  out["reason"] = std::string(text.reason.view());
  out["claimed_time"] = time_of(text.time);
}

Json closed_cards_json(const format::Close& text) {
  Json out = Json::array();
  for (const format::ClosedCard& card : text.cards.view()) {
    out.push_back({{"card", crypto::hex(card.card)},
                   {"station", std::string(card.station.view())},
                   {"end", std::string(format::card_end_words[static_cast<std::size_t>(card.end)])},
                   {"units", card.units},
                   {"good", card.good}});
  }
  return out;
}

Json deviations_json(const format::Close& text) {
  Json out = Json::array();
  for (const format::DeviationUse& use : text.deviations.view()) {
    out.push_back({{"number", std::string(use.number.view())},
                   {"boards", use.boards},
                   {"allowed", use.allowed}});
  }
  return out;
}

Json labels_json(const format::Maybe<format::Labels>& labels) {
  if (!labels.present) {
    return {};
  }
  return {{"printed", labels.value.printed},
          {"applied", labels.value.applied},
          {"scrapped", labels.value.scrapped}};
}

} // namespace

std::string json_of(const format::FirstArticle& text) {
  Json out = start();
  out["owner"] = crypto::spell_digest(text.owner);
  out["manifest"] = crypto::spell_digest(text.manifest);
  out["product"] = std::string(text.product.view());
  out["work_order"] = std::string(text.work_order.view());
  out["card"] = crypto::hex(text.card);
  out["ordinal"] = text.ordinal;
  out["serial"] = text.serial.present ? Json(std::string(text.serial.value.view())) : Json();
  out["read_back"] = crypto::spell_digest(text.read_back);
  out["equal_bytes"] = text.equal;
  out["serial_bytes"] = text.serial_bytes;
  out["kept_bytes"] = text.kept;
  out["configuration_bytes"] = text.configuration;
  out["unreadable_bytes"] = text.unreadable;
  out["erased_bytes"] = text.erased;
  put_signer(out, text);
  return spell(out);
}

std::string json_of(const format::Concession& text) {
  Json out = start();
  out["owner"] = crypto::spell_digest(text.owner);
  out["number"] = std::string(text.number.view());
  out["work_order"] = std::string(text.work_order.view());
  out["units"] = Json::array();
  for (const format::UnitRange& range : text.units.view()) {
    out["units"].push_back(
        {{"card", crypto::hex(range.card)}, {"first", range.first}, {"last", range.last}});
  }
  put_signer(out, text);
  return spell(out);
}

std::string json_of(const format::Close& text) {
  Json out = start();
  out["owner"] = crypto::spell_digest(text.owner);
  out["work_order"] = std::string(text.work_order.view());
  out["class"] = std::string(format::work_class_words[static_cast<std::size_t>(text.work_class)]);
  out["manifests"] = Json::array();
  for (const format::Digest& manifest : text.manifests.view()) {
    out["manifests"].push_back(crypto::spell_digest(manifest));
  }
  out["ordered"] = text.ordered;
  out["issued"] = text.issued;
  out["counts"] = counts_json(text.units);
  out["cards"] = closed_cards_json(text);
  out["deviations"] = deviations_json(text);
  out["labels"] = labels_json(text.labels);
  out["points"] = Json::array();
  for (const format::Text<160>& point : text.points.view()) {
    out["points"].push_back(std::string(point.view()));
  }
  out["register_entry"] = text.register_entry;
  out["register_head"] = crypto::spell_digest(text.register_head);
  put_signer(out, text);
  return spell(out);
}

std::string json_of(const lot::Account& account) {
  Json out = start();
  out.update(summary_json(account));
  out["cards"] = Json::array();
  for (const lot::CardAccount& card : account.cards) {
    out["cards"].push_back(card_json(card));
  }
  out["statements"] = Json::array();
  for (const registry::Statement& statement : account.statements) {
    out["statements"].push_back(
        {{"kind", std::string(registry::statement_words[static_cast<std::size_t>(statement.kind)])},
         {"text", std::string(text_of(ByteView(statement.text)))},
         {"signature", crypto::hex(statement.signature)},
         {"claimed_time", statement.time}});
  }
  out["points"] = Json::array();
  for (const lot::Point& point : account.points) {
    out["points"].push_back(
        {{"code", point.code}, {"blocking", point.blocking}, {"text", point.text}});
  }
  return spell(out);
}

std::string json_of(const std::vector<lot::Account>& accounts) {
  Json out = start();
  out["lots"] = Json::array();
  for (const lot::Account& account : accounts) {
    out["lots"].push_back(summary_json(account));
  }
  return spell(out);
}

std::string json_of(const lot::Order& order, const std::vector<lot::OrderCard>& to_make,
                    const std::vector<Error>& errors) {
  Json out = start();
  out["work_order"] = order.work_order;
  out["revision"] = order.revision;
  out["class"] = std::string(format::work_class_words[static_cast<std::size_t>(order.work_class)]);
  out["quantity"] = order.quantity;
  out["spares"] = order.spares;
  out["cards"] = Json::array();
  for (const lot::OrderCard& card : order.cards) {
    const bool due = std::any_of(to_make.begin(), to_make.end(), [&](const lot::OrderCard& other) {
      return other.place == card.place;
    });
    out["cards"].push_back(
        {{"place", card.place}, {"station", card.station}, {"units", card.units}, {"due", due}});
  }
  out["errors"] = Json::array();
  for (const Error& error : errors) {
    out["errors"].push_back(Json::parse(json_of(error))["error"]);
  }
  return spell(out);
}

} // namespace cardseal::view
