#include "register/entry.h"

#include <algorithm>

#include <fmt/format.h>

#include "base/number.h"
#include "io/clock.h"

namespace cardseal::registry {
namespace {

constexpr std::string_view chain_prefix = "cardseal-register 1\n";

std::string time_now() {
  char out[utc_length];
  return {out, spell_utc(io::now(), out)};
}

} // namespace

Body::Body(std::uint64_t number, std::string_view kind) {
  text_ = "entry " + std::to_string(number) + " ";
  text_ += kind;
  text_ += '\n';
}

Body& Body::put(std::string_view key, std::string_view value) {
  text_ += key;
  text_ += ' ';
  text_ += value;
  text_ += '\n';
  return *this;
}

Body& Body::put(std::string_view key, std::uint64_t value) {
  return put(key, std::to_string(value));
}

Body& Body::digest(std::string_view key, ByteView value) {
  return put(key, "sha256:" + crypto::hex(value));
}

Body& Body::hex(std::string_view key, ByteView value) {
  return put(key, crypto::hex(value));
}

Body owner_body(std::uint64_t number, const format::Digest& owner) {
  return Body(number, "owner").digest("owner", owner);
}

Body window_body(std::uint64_t number, ByteView key, std::string_view scheme, std::uint64_t first,
                 std::uint64_t last) {
  return Body(number, "window")
      .hex("key", key)
      .put("scheme", scheme)
      .put("first", first)
      .put("last", last);
}

Body scheme_body(std::uint64_t number, std::string_view scheme, ByteView definition) {
  return Body(number, "scheme").put("scheme", scheme).digest("definition", definition);
}

Body range_body(std::uint64_t number, std::string_view use, std::string_view scheme,
                const Range& range, std::string_view note) {
  return Body(number, use)
      .put("scheme", scheme)
      .put("first", range.first)
      .put("count", range.count)
      .put("note", note);
}

Body enrolment_body(std::uint64_t number, std::string_view station, std::uint64_t enrolment,
                    std::uint64_t first_serial) {
  return Body(number, "enrolment")
      .put("station", station)
      .put("enrolment", enrolment)
      .put("first-serial", first_serial);
}

Body lot_body(std::uint64_t number, const AllotmentRow& row, std::uint64_t quantity) {
  return Body(number, "lot")
      .put("work-order", row.work_order)
      .put("class", row.work_class)
      .digest("manifest", row.manifest)
      .put("product", row.product)
      .put("quantity", quantity);
}

Body allotment_body(std::uint64_t number, const AllotmentRow& row) {
  Body body(number, "allotment");
  body.put("allotment", row.id)
      .put("lot", row.lot)
      .put("scheme", row.scheme.value_or("-"))
      .put("first", row.range.first)
      .put("count", row.range.count)
      .put("station", row.station)
      .put("enrolment", row.enrolment)
      .put("serial", row.serial)
      .put("units", row.units)
      .put("enabled-slots", row.enabled_slots)
      .put("date-code", row.date_code.value_or("-"))
      .put("spare", row.spare ? "yes" : "no");
  if (!row.again.empty()) {
    body.put("numbers", format::numbers_words[static_cast<std::size_t>(row.numbers)]);
  }
  for (const Range& span : row.again) {
    body.put("span", fmt::format("{} {}", span.first, span.past() - 1));
  }
  return body;
}

Body sealed_body(std::uint64_t number, std::uint64_t allotment, ByteView text) {
  return Body(number, "sealed").put("allotment", allotment).digest("text", text);
}

Body written_body(std::uint64_t number, std::uint64_t allotment) {
  return Body(number, "written").put("allotment", allotment);
}

Body fate_body(std::uint64_t number, std::uint64_t allotment, std::string_view fate,
               std::string_view by, std::string_view note) {
  return Body(number, "card")
      .put("allotment", allotment)
      .put("fate", fate)
      .put("by", by)
      .put("note", note);
}

Body stop_body(std::uint64_t number, const Stop& stop) {
  return Body(number, "stop")
      .put("allotment", stop.allotment)
      .digest("text", crypto::sha256(stop.text))
      .digest("signature", crypto::sha256(stop.signature));
}

Body outcome_body(std::uint64_t number, std::uint64_t allotment, ByteView begun, ByteView good,
                  std::uint64_t begun_count, std::uint64_t good_count) {
  return Body(number, "outcome")
      .put("allotment", allotment)
      .put("begun", begun_count)
      .put("good", good_count)
      .digest("begun-bits", crypto::sha256(begun))
      .digest("good-bits", crypto::sha256(good));
}

Body order_body(std::uint64_t number, const OrderRow& order) {
  return Body(number, "order")
      .put("work-order", order.work_order)
      .put("revision", order.revision)
      .put("class", order.work_class)
      .digest("manifest", order.manifest)
      .put("product", order.product)
      .put("quantity", order.quantity)
      .put("spares", order.spares)
      .put("first-article", order.first_article ? "yes" : "no")
      .put("parent", order.parent.value_or("-"))
      .digest("file", order.file);
}

Body order_file_body(std::uint64_t number, ByteView bytes) {
  return Body(number, "order-file").digest("file", crypto::sha256(bytes));
}

Body place_body(std::uint64_t number, std::uint64_t lot, std::string_view work_order,
                std::string_view place) {
  return Body(number, "place").put("lot", lot).put("work-order", work_order).put("place", place);
}

Body settled_body(std::uint64_t number, const Settlement& settled) {
  return Body(number, "settled")
      .put("allotment", settled.allotment)
      .put("first", settled.units.first)
      .put("count", settled.units.count)
      .put("as", settled_words[static_cast<std::size_t>(settled.what)])
      .put("by", settled.by)
      .put("note", settled.note);
}

Body rework_body(std::uint64_t number, const Rework& rework) {
  return Body(number, "rework")
      .put("allotment", rework.before.allotment)
      .put("unit", rework.before.unit)
      .put("now-allotment", rework.now.allotment)
      .put("now-unit", rework.now.unit);
}

Body merge_body(std::uint64_t number, const Merge& merge) {
  return Body(number, "merge")
      .put("work-order", merge.work_order)
      .put("into", merge.whole)
      .put("by", merge.by)
      .put("note", merge.note);
}

Body label_body(std::uint64_t number, const LabelNote& note) {
  return Body(number, "label")
      .put("allotment", note.allotment)
      .put("first", note.units.first)
      .put("count", note.units.count)
      .put("as", label_words[static_cast<std::size_t>(note.what)])
      .put("by", note.by)
      .put("note", note.note);
}

Body statement_body(std::uint64_t number, const Statement& statement) {
  return Body(number, "statement")
      .put("work-order", statement.work_order)
      .put("kind", statement_words[static_cast<std::size_t>(statement.kind)])
      .digest("text", crypto::sha256(statement.text))
      .digest("signature", crypto::sha256(statement.signature));
}

Body met_body(std::uint64_t number, const Evidence& evidence, std::string_view standing) {
  const format::Allotment& met = evidence.allotment;
  return Body(number, "met")
      .put("standing", standing)
      .digest("text", evidence.text)
      .hex("card", met.card)
      .put("station", met.station.view())
      .put("serial", met.serial)
      .put("scheme", met.scheme.present ? met.scheme.value.view() : "-")
      .put("first", met.first)
      .put("count", met.count);
}

format::Digest entry_digest(const format::Digest& previous, std::string_view body) {
  crypto::Sha256 hash;
  hash.update(bytes_of(chain_prefix));
  hash.update(previous);
  hash.update(bytes_of(body));
  return hash.finish();
}

format::CardId card_of(const format::Digest& previous, const Body& body) {
  const format::Digest digest = entry_digest(previous, body.text() + "card -\n");
  format::CardId card{};
  std::copy_n(digest.begin(), card.size(), card.begin());
  return card;
}

Try<Head> head_of(Database& database) {
  REG_TRY(query, database.query("SELECT number, digest FROM entry ORDER BY number DESC LIMIT 1"));
  REG_TRY(row, query.next());
  Head head;
  if (row) {
    head.entries = query.number(0);
    (void)query.bytes_into(1, head.digest); // the table allows no other length
  }
  return head;
}

Try<void> append(Database& database, Head& head, const Body& body) {
  const format::Digest digest = entry_digest(head.digest, body.text());
  REG_TRY(insert,
          database.query("INSERT INTO entry(number, body, digest, time) VALUES(?, ?, ?, ?)"));
  REG_DO(insert.bind(head.entries + 1).bind(body.text()).bind(digest).bind(time_now()).run());
  head = {head.entries + 1, digest};
  return {};
}

} // namespace cardseal::registry
