#include "view/register_json.h"

#include "crypto/sha256.h"
#include "view/json_text.h"

namespace cardseal::view {
namespace {

Json maybe(const std::optional<std::string>& text) {
  return text ? Json(*text) : Json(nullptr);
}

Json json(const registry::Enrolled& station) {
  return {{"station", std::string(station.station.view())},
          {"enrolment", station.enrolment},
          {"next_serial", station.next_serial}};
}

Json json(const registry::WindowRow& window) {
  return {{"key", crypto::hex(window.key)},
          {"scheme", window.scheme},
          {"first", window.first},
          {"last", window.last},
          {"next", window.next}};
}

Json json(const registry::RangeRow& row) {
  return {{"scheme", row.scheme},
          {"first", row.range.first},
          {"count", row.range.count},
          {"use", std::string(registry::use_words[static_cast<std::size_t>(row.use)])},
          {"note", row.note},
          {"time", row.time}};
}

Json json(const registry::AllotmentRow& row) {
  Json out = {{"allotment", row.id},
              {"state", std::string(registry::state_words[static_cast<std::size_t>(row.state)])},
              {"card", crypto::hex(row.card)},
              {"station", row.station},
              {"enrolment", row.enrolment},
              {"serial", row.serial},
              {"scheme", maybe(row.scheme)},
              {"first", row.range.first},
              {"count", row.range.count},
              {"units", row.units},
              {"spare", row.spare}};
  out["numbers"] = std::string(format::numbers_words[static_cast<std::size_t>(row.numbers)]);
  out["spans"] = Json::array();
  for (const registry::Range& span : row.again) {
    out["spans"].push_back({span.first, span.past() - 1});
  }
  out["manifest"] = crypto::spell_digest(row.manifest);
  out["product"] = row.product;
  out["class"] = row.work_class;
  out["work_order"] = row.work_order;
  out["date_code"] = maybe(row.date_code);
  out["sealed_text"] =
      row.sealed_text ? Json(crypto::spell_digest(*row.sealed_text)) : Json(nullptr);
  out["fate"] = row.fate
                    ? Json(std::string(registry::fate_words[static_cast<std::size_t>(*row.fate)]))
                    : Json(nullptr);
  out["begun"] = row.begun;
  out["good"] = row.good;
  out["entry"] = row.entry_number;
  out["entry_digest"] = crypto::spell_digest(row.entry);
  out["time"] = row.time;
  return out;
}

template <class Row>
Json list(const std::vector<Row>& rows) {
  Json out = Json::array();
  for (const Row& row : rows) {
    out.push_back(json(row));
  }
  return out;
}

Json head_json(const registry::Head& head) {
  return {{"entries", head.entries}, {"digest", crypto::spell_digest(head.digest)}};
}

} // namespace

std::string json_of(const registry::Enrolled& station) {
  Json out = start();
  out.update(json(station));
  return spell(out);
}

std::string json_of(const registry::Range& range, const std::string& scheme) {
  Json out = start();
  out["scheme"] = scheme;
  out["first"] = range.first;
  out["count"] = range.count;
  return spell(out);
}

std::string json_of(const registry::Head& head, const std::vector<std::string>& problems) {
  Json out = start();
  out["good"] = problems.empty();
  out["head"] = head_json(head);
  out["problems"] = problems;
  return spell(out);
}

Try<std::string> json_of_register(registry::Register& numbers) {
  Try<registry::Head> head = numbers.head();
  Try<std::vector<registry::WindowRow>> windows = numbers.windows();
  Try<std::vector<registry::Enrolled>> stations = numbers.stations();
  Try<std::vector<registry::RangeRow>> ranges = numbers.ranges();
  Json allotments = Json::array();
  Try<void> rows = numbers.each_allotment(
      [&](const registry::AllotmentRow& row) { allotments.push_back(json(row)); });
  if (!head || !windows || !stations || !ranges || !rows) {
    return Unexpected(!head       ? head.error()
                      : !windows  ? windows.error()
                      : !stations ? stations.error()
                      : !ranges   ? ranges.error()
                                  : rows.error());
  }
  Json out = start();
  out["head"] = head_json(*head);
  out["windows"] = list(*windows);
  out["stations"] = list(*stations);
  out["ranges"] = list(*ranges);
  out["allotments"] = std::move(allotments);
  return spell(out);
}

} // namespace cardseal::view
