#include "view/compare_json.h"

#include <optional>

#include "base/number.h"
#include "crypto/sha256.h"
#include "view/json_text.h"

namespace cardseal::view {
namespace {

Json side_json(const compare::Side& side) {
  const format::Manifest& m = side.package.manifest;
  Json signoffs = Json::array();
  for (const package::SignoffEntry& entry : side.package.signoffs) {
    const format::Signoff& s = entry.signoff;
    char time[utc_length];
    signoffs.push_back({{"role", std::string(format::role_words[static_cast<std::size_t>(s.role)])},
                        {"person", std::string(s.person.view())},
                        {"time", std::string(time, spell_utc(s.time, time))}});
  }
  Json out = {{"file", side.package.file}, {"sealed", side.sealed}};
  out["package"] =
      side.sealed ? Json(crypto::spell_digest(side.package.manifest_digest)) : Json(nullptr);
  out["product"] = std::string(m.product.view());
  out["release"] = std::string(m.release.view());
  out["signoffs"] = signoffs;
  return out;
}

Json words_json(const std::optional<std::string>& words) {
  return words ? Json(*words) : Json(nullptr);
}

Json field_json(const compare::FieldChange& field) {
  Json out = {{"name", field.name}};
  out["first"] = field.number_a ? Json(*field.number_a) : words_json(field.a);
  out["second"] = field.number_b ? Json(*field.number_b) : words_json(field.b);
  return out;
}

Json range_json(const image::DifferentRange& range) {
  constexpr std::string_view kinds[] = {"changed", "removed", "added"};
  return {{"what", std::string(kinds[static_cast<std::size_t>(range.what)])},
          {"address", range.range.address},
          {"length", range.range.length},
          {"first", crypto::hex(range.a)},
          {"second", crypto::hex(range.b)}};
}

Json bytes_json(const image::Comparison& bytes) {
  Json ranges = Json::array();
  for (const image::DifferentRange& range : bytes.ranges) {
    ranges.push_back(range_json(range));
  }
  return {{"changed", bytes.different_bytes}, {"removed", bytes.only_in_a},
          {"added", bytes.only_in_b},         {"equal", bytes.equal_bytes},
          {"range_count", bytes.range_count}, {"ranges", ranges}};
}

Json difference_json(const compare::Difference& one) {
  Json fields = Json::array();
  for (const compare::FieldChange& field : one.fields) {
    fields.push_back(field_json(field));
  }
  return {{"area", std::string(compare::area_words[static_cast<std::size_t>(one.area)])},
          {"key", one.key},
          {"what", one.what},
          {"can_damage", one.risk == compare::Risk::damage},
          {"first", words_json(one.a)},
          {"second", words_json(one.b)},
          {"fields", fields},
          {"bytes", one.bytes ? bytes_json(*one.bytes) : Json(nullptr)}};
}

} // namespace

std::string json_of(const compare::Side& a, const compare::Side& b, const compare::Report& report) {
  Json out = start();
  out["first"] = side_json(a);
  out["second"] = side_json(b);
  out["same"] = report.differences.empty();
  out["differences_counted"] = report.differences.size();
  out["can_damage"] = report.can_damage;
  out["signoffs_compared"] = report.signoffs_compared;
  out["differences"] = Json::array();
  for (const compare::Difference& one : report.differences) {
    out["differences"].push_back(difference_json(one));
  }
  return spell(out);
}

} // namespace cardseal::view
