#include "report.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "crypto/sha256.h"

namespace cardseal::station_check {
namespace {

constexpr int json_schema = 1;

template <class E, std::size_t N>
std::string word(E value, const std::array<std::string_view, N>& words) {
  return std::string(words[static_cast<std::size_t>(value)]);
}

// Slot 1 leftmost, as it is printed on sheets and labels.
std::string slots_of(std::uint32_t permitted, std::uint32_t enabled) {
  std::string out;
  for (unsigned slot = 0; slot < 32 && (permitted >> slot) != 0; ++slot) {
    out += (enabled >> slot & 1U) != 0 ? '1' : '0';
  }
  return out;
}

std::string where(const Outcome& outcome) {
  const auto number = static_cast<unsigned>(outcome.fault);
  const char* what = number < 200                          ? "line"
                     : number < 300                        ? "byte"
                     : number < 500                        ? "line or byte"
                     : outcome.fault == Fault::image_block ? "byte of the image"
                     : number < 600                        ? "sector"
                                                           : "byte or slot";
  return fmt::format("item {}, {} {}", outcome.item, what, outcome.position);
}

std::string supply_of(const format::Manifest& m) {
  return m.supply_source == format::SupplySource::board
             ? "from the board itself"
             : fmt::format("{} mV from the station", m.supply_mv);
}

std::string refusal_text(const Outcome& outcome, const std::string& card) {
  const FaultText& fault = fault_text(outcome.fault);
  return fmt::format("refused      {}\n"
                     "reason       {}\n"
                     "display      {}\n"
                     "because      {}\n"
                     "where        {}\n"
                     "what to do   {}\n",
                     escaped(card), static_cast<unsigned>(outcome.fault), fault.display,
                     fault.sentence, where(outcome), fault.advice);
}

} // namespace

std::string text_of(const Verdict& v, const std::string& card) {
  const std::string station = v.station.empty()
                                  ? std::string()
                                  : fmt::format("station      {}, model {}, enrolment {}\n",
                                                v.station, v.model, v.enrolment);
  if (!v.outcome.ok()) {
    return refusal_text(v.outcome, card) + station;
  }
  const format::Manifest& m = v.manifest;
  const format::Allotment& a = v.allotment;
  std::string out = fmt::format("admitted     {}\n", escaped(card)) + station;
  out +=
      fmt::format("card         {}, allotment {}, work order {}, class {}\n", crypto::hex(a.card),
                  a.serial, a.work_order.view(), word(a.work_class, format::work_class_words));
  out += fmt::format("package      {}: {} {}, epoch {}, sequence {}\n", m.title.view(),
                     m.product.view(), m.release.view(), m.epoch, m.sequence);
  out += fmt::format("identity     {}\n", crypto::spell_digest(v.manifest_digest));
  out += fmt::format("device       {} on {} revision {}\n", m.device.view(), m.board.view(),
                     m.board_revision);
  out += fmt::format("slots        {} (slot 1 leftmost)\n", slots_of(m.slots, a.enabled_slots));
  out += fmt::format("supply       {}\n", supply_of(m));
  out += fmt::format("erase        {}, verify {}, lock {}\n", word(m.erase, format::erase_words),
                     word(m.verify, format::verify_words), word(m.lock, format::lock_words));
  out += fmt::format("units        {} left of {}\n", v.units_left, a.units);
  if (v.first && v.last) {
    out += fmt::format("first unit   {} (ordinal {})\n", v.first->text, v.first->ordinal);
    out += fmt::format("last unit    {} (ordinal {})\n", v.last->text, v.last->ordinal);
  }
  out += fmt::format("image        {} bytes, every block proved\n", v.image_bytes);
  return out;
}

std::string json_of(const Verdict& v, const std::string& card) {
  nlohmann::ordered_json out;
  out["schema"] = json_schema;
  out["verdict"] = v.outcome.ok() ? "admitted" : "refused";
  out["card"] = escaped(card);
  out["station"] = {{"name", v.station}, {"model", v.model}, {"enrolment", v.enrolment}};
  if (!v.outcome.ok()) {
    const FaultText& fault = fault_text(v.outcome.fault);
    out["reason"] = {{"number", static_cast<unsigned>(v.outcome.fault)},
                     {"display", fault.display},
                     {"sentence", fault.sentence},
                     {"advice", fault.advice},
                     {"item", v.outcome.item},
                     {"position", v.outcome.position}};
    return out.dump(2) + "\n";
  }
  const format::Manifest& m = v.manifest;
  const format::Allotment& a = v.allotment;
  out["package"] = {{"manifest", crypto::spell_digest(v.manifest_digest)},
                    {"title", m.title.view()},
                    {"product", m.product.view()},
                    {"release", m.release.view()},
                    {"epoch", m.epoch},
                    {"sequence", m.sequence}};
  out["settings"] = {{"slots", slots_of(m.slots, a.enabled_slots)},
                     {"supply_source", word(m.supply_source, format::supply_source_words)},
                     {"supply_mv", m.supply_mv},
                     {"erase", word(m.erase, format::erase_words)},
                     {"verify", word(m.verify, format::verify_words)},
                     {"lock", word(m.lock, format::lock_words)}};
  out["allotment"] = {{"card", crypto::hex(a.card)},
                      {"serial", a.serial},
                      {"work_order", a.work_order.view()},
                      {"class", word(a.work_class, format::work_class_words)},
                      {"units", a.units},
                      {"units_left", v.units_left}};
  if (v.first && v.last) {
    out["first_unit"] = {{"ordinal", v.first->ordinal}, {"text", v.first->text}};
    out["last_unit"] = {{"ordinal", v.last->ordinal}, {"text", v.last->text}};
  }
  out["image_bytes"] = v.image_bytes;
  return out.dump(2) + "\n";
}

std::string json_of(const Error& error) {
  nlohmann::ordered_json out;
  out["schema"] = json_schema;
  out["error"] = {{"code", error.code},           {"what", error.what},
                  {"file", error.place.file},     {"line", error.place.line},
                  {"column", error.place.column}, {"found", error.found},
                  {"expected", error.expected},   {"hint", error.hint}};
  return out.dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

} // namespace cardseal::station_check
