#include "report.h"

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::station_check {
namespace {

template <class E, std::size_t N>
std::string word(E value, const std::array<std::string_view, N>& words) {
  return std::string(words[static_cast<std::size_t>(value)]);
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

std::string verify_of(const format::Manifest& m) {
  const format::VerifyLimits& limits = m.verify_limits.value;
  return word(m.verify, format::verify_words) +
         (m.verify_limits.present ? fmt::format(" at {} and {} mV", limits.low_mv, limits.high_mv)
                                  : std::string());
}

std::string learned_text(const Verdict& v) {
  std::string out;
  for (const std::string& each : v.learned) {
    out += fmt::format("learned      {}{}\n", each,
                       v.outcome.ok() ? "" : "; it stays, although the card is refused");
  }
  return out;
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
    return refusal_text(v.outcome, card) + station + learned_text(v);
  }
  const format::Manifest& m = v.manifest;
  const format::Allotment& a = v.allotment;
  std::string out = fmt::format("admitted     {}\n", escaped(card)) + station;
  out +=
      fmt::format("card         {}, allotment {}, work order {}, class {}\n", crypto::hex(a.card),
                  a.serial, a.work_order.view(), word(a.work_class, format::work_class_words));
  if (v.jobs > 1) {
    out += fmt::format("job          {} of {} on this card\n", v.job, v.jobs);
  }
  out += fmt::format("package      {}: {} {}, epoch {}, sequence {}\n", m.title.view(),
                     m.product.view(), m.release.view(), m.epoch, m.sequence);
  out += fmt::format("identity     {}\n", crypto::spell_digest(v.manifest_digest));
  out += fmt::format("device       {} on {} revision {}\n", m.device.view(), m.board.view(),
                     m.board_revision);
  out +=
      fmt::format("slots        {} (slot 1 leftmost)\n", view::slot_row(m.slots, a.enabled_slots));
  out += fmt::format("supply       {}\n", supply_of(m));
  out += fmt::format("erase        {}, verify {}, lock {}\n", word(m.erase, format::erase_words),
                     verify_of(m), word(m.lock, format::lock_words));
  out += fmt::format("units        {} left of {}\n", v.units_left, a.units);
  if (a.numbers != format::Numbers::fresh) {
    out += fmt::format("boards       {} that have numbers, {}\n", a.count,
                       word(a.numbers, format::numbers_words));
  }
  if (v.first && v.last) {
    out += fmt::format("first unit   {} (ordinal {})\n", v.first->text, v.first->ordinal);
    out += fmt::format("last unit    {} (ordinal {})\n", v.last->text, v.last->ordinal);
  }
  out += fmt::format("image        {} bytes, every block proved, sha256 {}\n", v.image_bytes,
                     crypto::hex(v.image_digest));
  return out + learned_text(v);
}

} // namespace cardseal::station_check
