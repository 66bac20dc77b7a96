#include "card/sheet.h"
#include "page/draw.h"
#include "page/review_parts.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

void put_verify(Fields& page, const format::Manifest& m) {
  page.set("VERIFY", words_of("verify", m.verify, format::verify_words));
  if (m.verify_limits.present) {
    Fields& limits = page.add("VERIFY_LIMITS");
    limits.set("LOW", card::volts(m.verify_limits.value.low_mv));
    limits.set("LOW_MV", m.verify_limits.value.low_mv);
    limits.set("HIGH", card::volts(m.verify_limits.value.high_mv));
    limits.set("HIGH_MV", m.verify_limits.value.high_mv);
  }
}

void put_kept(Fields& page, const format::Manifest& m) {
  if (m.kept.count == 0) {
    return page.show("NOTHING_KEPT");
  }
  std::size_t index = 0;
  for (const format::KeptRange& kept : m.kept.view()) {
    Fields& row = page.add("KEPT_RANGE");
    row.set("AT", index++);
    row.set("REGION", kept.region.view());
    row.set("FROM", address(kept.address));
    row.set("ADDRESS", kept.address);
    row.set("BYTES", kept.length);
  }
}

void put_station(Fields& page, const format::StationFacts& s, std::size_t index) {
  Fields& row = page.add("STATION");
  row.set("AT", index);
  row.set("MODEL", s.model.view());
  row.set("READS", words_of("reads", s.reads, format::station_reads_words));
  row.set("SLOTS", card::slot_words(s.slots, s.slots));
  row.set("SLOTS_MASK", s.slots);
  row.set("LOW", card::volts(s.supply_low_mv));
  row.set("LOW_MV", s.supply_low_mv);
  row.set("HIGH", card::volts(s.supply_high_mv));
  row.set("HIGH_MV", s.supply_high_mv);
  row.set("STEP", card::volts(s.supply_step_mv));
  row.set("STEP_MV", s.supply_step_mv);
  row.set("PARTITION", words_of("partition", s.partition, format::partition_words));
  row.set("CLUSTER", s.cluster_sectors);
  row.set("SECTORS", s.max_sectors);
  row.set("LABEL", s.volume_label.view());
}

void put_plain_files(Fields& page, const format::Facts& f) {
  if (f.plain_files.count == 0) {
    return;
  }
  Fields& table = page.add("PLAIN_FILES");
  std::size_t index = 0;
  for (const format::PlainFileFacts& p : f.plain_files.view()) {
    Fields& row = table.add("PLAIN_FILE");
    row.set("AT", index++);
    row.set("MODEL", p.model.view());
    row.set("PATH", p.path.view());
    row.set("FORM", words_of("form", p.form, format::plain_form_words));
    row.set("RECORD", p.record_length);
    row.set("LINE_END", words_of("line-end", p.line_end, format::line_end_words));
    row.set("SUM", p.shown_checksum.view());
    row.set("DIGITS", card::checksum_digits(p.shown_checksum.view(), p.shown_value));
    row.set("VALUE", p.shown_value);
  }
}

} // namespace

void put_settings(Fields& page, const package::Package& package) {
  const format::Manifest& m = package.manifest;
  put_slots(page, m.slots, m.slots);
  page.set("SLOTS", card::slot_words(m.slots, m.slots));
  page.set("SLOTS_MASK", m.slots);
  page.set("ERASE", words_of("erase", m.erase, format::erase_words));
  page.set("BLANK_CHECK", words_of("blank", m.blank_check, format::yes_no_words));
  put_verify(page, m);
  page.set("LOCK", words_of("lock", m.lock, format::lock_words));
  put_kept(page, m);
  page.set("STOP_AFTER", m.stop_after);
  page.show(m.stop_after == 0 ? "STOP_NEVER" : "STOP");
  page.set("PLAIN_FILE_SET", words_of("plain", m.plain_file, format::yes_no_words));
  std::size_t index = 0;
  for (const format::Id& model : m.station_models.view()) {
    Fields& row = page.add("STATION_MODEL");
    row.set("AT", index++);
    row.set("MODEL", model.view());
  }
  index = 0;
  for (const format::StationFacts& s : package.facts.stations.view()) {
    put_station(page, s, index++);
  }
  put_plain_files(page, package.facts);
}

} // namespace cardseal::page
