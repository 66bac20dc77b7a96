#include "view/trace_json.h"

#include "crypto/sha256.h"
#include "view/json_text.h"

namespace cardseal::view {
namespace {

Json unit_json(const trace::Unit& unit) {
  return {{"ordinal", unit.ordinal}, {"number", unit.number}, {"text", unit.text}};
}

std::string spelled(const Utc& time) {
  char text[utc_length];
  return {text, spell_utc(time, text)};
}

Json approvals_json(const package::Package& package) {
  Json out = Json::array();
  for (const package::SignoffEntry& entry : package.signoffs) {
    const format::Signoff& s = entry.signoff;
    out.push_back({{"person", std::string(s.person.view())},
                   {"role", std::string(format::role_words[static_cast<std::size_t>(s.role)])},
                   {"meaning", std::string(s.meaning.view())},
                   {"reason", std::string(s.reason.view())},
                   {"claimed_time", spelled(s.time)},
                   {"key", crypto::hex(s.key)}});
  }
  return out;
}

using Judged = std::map<const package::Package*, Outcome>;

Json traced_package(const trace::Found& found, const Judged& judged) {
  Json out = {{"manifest", crypto::spell_digest(found.allotment.manifest)}};
  if (found.package == nullptr) {
    return out;
  }
  const format::Manifest& m = found.package->manifest;
  const format::Facts& f = found.package->facts;
  out["file"] = found.package->file;
  out["product"] = std::string(m.product.view());
  out["release"] = std::string(m.release.view());
  out["firmware_name"] = std::string(f.firmware_name.view());
  out["firmware_sha256"] = crypto::hex(f.firmware_digest);
  out["supply_mv"] = m.supply_mv;
  out["board"] = {{"id", std::string(m.board.view())}, {"revision", m.board_revision}};
  const auto verdict = judged.find(found.package);
  out["signoffs_judged"] = verdict == judged.end() ? "not-looked-at"
                           : verdict->second.ok()  ? "good"
                                                   : "refused";
  out["signoffs"] = approvals_json(*found.package);
  out["deviations"] = Json::array();
  for (const format::Deviation& d : f.deviations.view()) {
    out["deviations"].push_back(std::string(d.number.view()));
  }
  return out;
}

Json fates_json(const std::vector<registry::FateRow>& fates) {
  Json out = Json::array();
  for (const registry::FateRow& row : fates) {
    out.push_back(
        {{"fate", std::string(registry::fate_words[static_cast<std::size_t>(row.note.fate)])},
         {"by", row.note.by},
         {"note", row.note.note},
         {"claimed_time", row.time}});
  }
  return out;
}

Json settled_json(const std::optional<registry::Settlement>& settled) {
  if (!settled) {
    return {};
  }
  return {{"as", std::string(registry::settled_words[static_cast<std::size_t>(settled->what)])},
          {"by", settled->by},
          {"note", settled->note},
          {"claimed_time", settled->time}};
}

Json work_json(const std::vector<format::LogRecord>& work) {
  Json out = Json::array();
  const auto word = [](const format::LogWord& text) {
    return text.view().empty() ? Json() : Json(std::string(text.view()));
  };
  for (const format::LogRecord& record : work) {
    out.push_back({{"session", record.session},
                   {"cycle", record.cycle},
                   {"slot", record.slot},
                   {"try", record.tries},
                   {"outcome", std::string(record.outcome.view())},
                   {"supply_mv", record.supply_mv},
                   {"duration_ms", record.duration_ms},
                   {"date", word(record.date)},
                   {"shift", word(record.shift)},
                   {"fixture", word(record.fixture)},
                   {"reel", word(record.reel)},
                   {"panel", word(record.panel)}});
  }
  return out;
}

Json numbers_json(const std::vector<trace::OtherNumber>& numbers) {
  Json out = Json::array();
  for (const trace::OtherNumber& number : numbers) {
    out.push_back({{"label", number.label},
                   {"card", crypto::hex(number.allotment.card)},
                   {"place", number.place + 1},
                   {"work_order", number.allotment.work_order}});
  }
  return out;
}

Json ordered_json(const std::optional<trace::Ordered>& ordered) {
  if (!ordered) {
    return {};
  }
  Json out = {{"place", ordered->place.empty() ? Json() : Json(ordered->place)},
              {"line", ordered->line.empty() ? Json() : Json(ordered->line)},
              {"reels", Json::array()},
              {"silicon", Json::array()}};
  for (const lot::Reel& reel : ordered->reels) {
    out["reels"].push_back({{"lot", reel.lot}, {"part", reel.part}});
  }
  for (const lot::SiliconRevision& silicon : ordered->silicon) {
    out["silicon"].push_back(silicon.title);
  }
  return out;
}

Json statements_json(const std::vector<registry::Statement>& statements) {
  Json out = Json::array();
  for (const registry::Statement& statement : statements) {
    out.push_back(
        {{"kind", std::string(registry::statement_words[static_cast<std::size_t>(statement.kind)])},
         {"text", std::string(text_of(ByteView(statement.text)))},
         {"signature", crypto::hex(statement.signature)}});
  }
  return out;
}

Json traced_json(const trace::Found& found, const Judged& judged) {
  const registry::AllotmentRow& row = found.allotment;
  return {{"unit", unit_json(found.unit)},
          {"result", std::string(trace::result_words[static_cast<std::size_t>(found.result)])},
          {"card", crypto::hex(row.card)},
          {"station", row.station},
          {"enrolment", row.enrolment},
          {"allotment", row.serial},
          {"card_fates", fates_json(found.fates)},
          {"work", work_json(found.work)},
          {"settled", settled_json(found.settled)},
          {"ordered", ordered_json(found.ordered)},
          {"before", numbers_json(found.before)},
          {"after", numbers_json(found.after)},
          {"lot_statements", statements_json(found.statements)},
          {"work_order", row.work_order},
          {"merged_into", found.merged_into},
          {"class", row.work_class},
          {"spare", row.spare},
          {"state", std::string(registry::state_words[static_cast<std::size_t>(row.state)])},
          {"register_entry", row.entry_number},
          {"claimed_time", row.time},
          {"package", traced_package(found, judged)}};
}

} // namespace

std::string json_of(const trace::Answer& answer, const Judged& judged) {
  Json out = start();
  out["is_a_serial"] = answer.is_a_serial;
  out["found"] = Json::array();
  for (const trace::Found& found : answer.found) {
    out["found"].push_back(traced_json(found, judged));
  }
  out["other_label"] = Json::array();
  for (const trace::Found& found : answer.other_label) {
    out["other_label"].push_back(traced_json(found, judged));
  }
  out["apart"] = Json::array();
  for (const trace::Apart& apart : answer.apart) {
    out["apart"].push_back(
        {{"unit", unit_json(apart.unit)},
         {"use", std::string(registry::use_words[static_cast<std::size_t>(apart.range.use)])},
         {"note", apart.range.note},
         {"claimed_time", apart.range.time}});
  }
  return spell(out);
}

} // namespace cardseal::view
