#include "compare/table.h"

#include <algorithm>

#include <fmt/format.h>

namespace cardseal::compare {
namespace {

using enum Use;

std::vector<Row> identity_rows() {
  constexpr Area area = Area::identity;
  return {
      {"manifest.owner", area, Risk::other, "owner", {{""}}},
      {"manifest.product", area, Risk::other, "product", {{""}}},
      {"manifest.release", area, Risk::other, "version", {{""}}},
      {"manifest.epoch", area, Risk::other, "epoch", {{""}}},
      {"manifest.sequence", area, Risk::other, "sequence", {{""}}},
      {"manifest.title", area, Risk::other, "title on display", {{""}}},
      {"manifest.previous", area, Risk::other, "previous package", {{""}}},
      {"facts.owner", area, Risk::other, "owner in the facts", {{""}}, "manifest.owner"},
      {"facts.product", area, Risk::other, "product in the facts", {{""}}, "manifest.product"},
      {"facts.release", area, Risk::other, "version in the facts", {{""}}, "manifest.release"},
  };
}

std::vector<Row> supply_rows() {
  constexpr Area area = Area::supply;
  return {
      {"manifest.supply", area, Risk::damage, "supply", {{"source"}, {"voltage", volts}}},
      {"facts.device-supply",
       area,
       Risk::damage,
       "device takes",
       {{"at least", volts}, {"at most", volts}, {"absolute maximum", volts}}},
      {"facts.board-supply",
       area,
       Risk::damage,
       "board takes",
       {{"at least", volts}, {"at most", volts}}},
  };
}

std::vector<Row> settings_rows() {
  constexpr Area area = Area::settings;
  return {
      {"manifest.slots", area, Risk::other, "slots permitted", {{"", slots}}},
      {"manifest.lock", area, Risk::damage, "lock", {{""}}},
      {"manifest.kept-range",
       area,
       Risk::damage,
       "kept as the maker left it:",
       {{"region", as_sealed, names}, {"at", address, names}, {"length", byte_count}}},
      {"manifest.device", area, Risk::damage, "device", {{""}}},
      // A size shows in the digits of value and mask.
      {"manifest.device-id",
       area,
       Risk::other,
       "device ID",
       {{"size", as_sealed, position}, {"value"}, {"mask"}}},
      {"manifest.board", area, Risk::other, "board", {{"name"}, {"revision"}}},
      {"manifest.erase", area, Risk::other, "erase", {{""}}},
      {"manifest.blank", area, Risk::other, "blank check", {{""}}},
      // For the two supplies at which a low-high verify reads.
      {"manifest.verify",
       area,
       Risk::damage,
       "verify",
       {{""}, {"at its low", volts}, {"at its high", volts}}},
      {"manifest.stop-after", area, Risk::other, "stop a slot", {{"", stop_after}}},
      {"manifest.plain-file", area, Risk::other, "plain file", {{""}}},
      {"manifest.station-model", area, Risk::other, "station model", {{"", as_sealed, names}}},
  };
}

std::vector<Row> configuration_rows() {
  constexpr Area area = Area::configuration;
  return {
      {"facts.configuration", area, Risk::damage, "configuration comes from", {{""}}},
      {"facts.config-field",
       area,
       Risk::damage,
       "field",
       {{"field", as_sealed, names}, {"bits", bits, shown}, {"meaning", as_sealed, shown}}},
  };
}

std::vector<Row> firmware_rows() {
  constexpr Area area = Area::firmware;
  return {
      {"manifest.segment",
       area,
       Risk::other,
       "segment",
       {{"at", address, names}, {"length", byte_count}},
       "firmware."},
      {"manifest.image",
       area,
       Risk::other,
       "image",
       {{"size", byte_count}, {"digest (of the bytes alone)"}}},
      {"manifest.chain-head", area, Risk::other, "chain of digests", {{""}}, "manifest.image"},
      {"facts.firmware",
       area,
       Risk::other,
       "firmware file",
       {{"name"}, {"size", byte_count}, {"digest"}, {"format"}}},
      {"facts.checksum",
       area,
       Risk::other,
       "checksum",
       {{"name", as_sealed, names},
        {"over", as_sealed, names},
        {"", checksum_value, shown},
        {"gaps as", bits}}},
  };
}

Row part_row() {
  return {"manifest.part",
          Area::serials,
          Risk::other,
          "part",
          {{"part", as_sealed, names},
           {"kind"},
           {"text"},
           {"base"},
           {"width"},
           {"check"},
           {"over the parts from"}}};
}

Row placement_row() {
  return {"manifest.placement",
          Area::serials,
          Risk::other,
          "placed in",
          {{"region", as_sealed, names},
           {"at", address, shown},
           {"length", byte_count},
           {"encoding"},
           {"first part"},
           {"last part"},
           {"padding"},
           {"each byte followed by"},
           {"with CRC"},
           {"before it"}}};
}

std::vector<Row> serial_rows() {
  constexpr Area area = Area::serials;
  return {
      {"manifest.scheme",
       area,
       Risk::other,
       "scheme",
       {{"name"}, {"first number"}, {"step"}, {"capacity"}}},
      {"manifest.alphabet", area, Risk::other, "digits used", {{""}}},
      {"manifest.serial-crc", area, Risk::other, "CRC", {{"model"}, {"byte order"}}},
      {"manifest.excluded-range",
       area,
       Risk::other,
       "numbers left out,",
       {{"first", as_sealed, names}, {"last", as_sealed, names}}},
      part_row(),
      placement_row(),
  };
}

std::vector<Row> findings_rows() {
  constexpr Area area = Area::findings;
  return {
      // Findings are numbered by their weight: one more moves all others.
      {"facts.finding",
       area,
       Risk::other,
       "finding",
       {{"number", as_sealed, position},
        {"level", as_sealed, shown},
        {"rule", as_sealed, names},
        {"text", as_sealed, shown}}},
      // What was refused for a reason is let through by it.
      {"facts.deviation",
       area,
       Risk::damage,
       "deviation",
       {{"number", as_sealed, names},
        {"rule", as_sealed, shown},
        {"boards", as_sealed, shown},
        {"expires", as_sealed, shown},
        {"reason", as_sealed, shown}}},
      {"facts.findings-counted", area, Risk::other, "findings counted", {{""}}, "facts.finding"},
  };
}

std::vector<Row> station_rows() {
  constexpr Area area = Area::stations;
  return {
      {"facts.station",
       area,
       Risk::other,
       "station model",
       {{"model", as_sealed, names},
        {"reads"},
        {"slots", slots},
        {"supply from", volts},
        {"supply to", volts},
        {"supply step", volts},
        {"partition"},
        {"sectors of a cluster"},
        {"sectors at most"},
        {"volume label"}}},
      {"facts.plain",
       area,
       Risk::other,
       "plain file of",
       {{"model", as_sealed, names},
        {"path"},
        {"format"},
        {"bytes in a record"},
        {"line ends"},
        {"checksum shown", as_sealed, shown},
        {"value shown", shown_value, shown}}},
  };
}

std::vector<Row> margin_rows() {
  constexpr Area area = Area::calculation;
  return {
      {"facts.supply-input",
       area,
       Risk::other,
       "given",
       {{"name", as_sealed, names},
        {"phase", as_sealed, names},
        {"model", as_sealed, names},
        {""}}},
      {"facts.supply-formula",
       area,
       Risk::other,
       "formula of",
       {{"name", as_sealed, names}, {"model", as_sealed, names}, {""}}},
      {"facts.margin",
       area,
       Risk::other,
       "margin",
       {{"name", as_sealed, names},
        {"phase", as_sealed, names},
        {"worst at"},
        {"standing", as_sealed, shown},
        {"unit"},
        {"limit", margin_value},
        {"formula"},
        {"worst", margin_value},
        {"margin", margin_distance, shown}}},
  };
}

std::vector<Row> work_rows() {
  constexpr Area area = Area::calculation;
  return {
      {"facts.work-step",
       area,
       Risk::other,
       "order of work:",
       {{"step", as_sealed, shown}, {"name", as_sealed, names}, {"reason"}}},
      {"facts.cycle",
       area,
       Risk::other,
       "cycle time at",
       {{"model", as_sealed, names},
        {"slots"},
        {"slowest board", milliseconds},
        {"cycle", milliseconds},
        {"boards", as_sealed, shown},
        {"lot", milliseconds}}},
      {"facts.lot-estimate",
       area,
       Risk::other,
       "expected lot",
       {{"good boards"},
        {"yield in millionths"},
        {"slowest board in millionths more"},
        {"seconds to set up"}}},
      {"facts.cycle-input",
       area,
       Risk::other,
       "given of times,",
       {{"name", as_sealed, names}, {"model", as_sealed, names}, {""}}},
      {"facts.cycle-formula",
       area,
       Risk::other,
       "formula of time,",
       {{"name", as_sealed, names}, {"model", as_sealed, names}, {""}}},
      {"facts.panel-place",
       area,
       Risk::other,
       "position on the panel of",
       {{"slot", as_sealed, names}, {""}}},
  };
}

std::vector<Row> signoff_rows() {
  return {{"signoff",
           Area::signoffs,
           Risk::other,
           "signed as",
           {{"owner", as_sealed, position},
            {"manifest", as_sealed, position},
            {"product", as_sealed, position},
            {"epoch", as_sealed, position},
            {"sequence", as_sealed, position},
            {"role", as_sealed, names},
            {"by", as_sealed, shown},
            {"key"},
            {"meaning"},
            {"reason"},
            {"time", as_sealed, shown},
            {"previous", as_sealed, position},
            {"trust list"},
            {"units a station"},
            {"stations"},
            {"first ordinal"},
            {"last ordinal"},
            {"plain file"},
            {"made by"}}}};
}

std::vector<Row> package_rows() {
  return {
      {"manifest.file",
       Area::documents,
       Risk::other,
       "document",
       {{"name", as_sealed, names}, {"size", byte_count, shown}, {"digest", as_sealed, shown}}},
      {"manifest.facts",
       Area::package,
       Risk::other,
       "facts",
       {{"size", byte_count}, {"digest"}},
       "facts."},
      {"facts.tool", Area::package, Risk::other, "made by", {{""}}},
  };
}

std::vector<Row> all_rows() {
  std::vector<Row> all;
  for (const auto& some :
       {supply_rows, settings_rows, configuration_rows, firmware_rows, serial_rows, findings_rows,
        identity_rows, signoff_rows, station_rows, margin_rows, work_rows, package_rows}) {
    const std::vector<Row> rows = some();
    all.insert(all.end(), rows.begin(), rows.end());
  }
  return all;
}

} // namespace

const std::vector<Row>& rows() {
  static const std::vector<Row> all = all_rows();
  return all;
}

Row row_of(std::string_view key, std::size_t fields) {
  const auto found = std::ranges::find(rows(), key, &Row::key);
  Row row;
  if (found != rows().end()) {
    row = *found;
  } else {
    row.key = row.what = key;
  }
  row.fields.resize(std::max(fields, row.fields.size()), {"value"});
  return row;
}

} // namespace cardseal::compare
