#include <algorithm>

#include <fmt/format.h>

#include "base/crc.h"
#include "card/plain_file.h"
#include "card/sheet.h"
#include "crypto/sha256.h"
#include "page/card_parts.h"
#include "page/spell.h"
#include "page/words.h"
#include "unit/unit.h"

namespace cardseal::page {
namespace {

// Files for each unit stand in no index: they are on the card where the card verifies and none of
// the release's other plain files is.
bool is_on_card(const CardInput& in, const format::PlainFileFacts& plain) {
  const auto listed = [&](const format::PlainFileFacts& one) {
    const auto files = in.index.files.view();
    return std::any_of(files.begin(), files.end(),
                       [&](const format::FileOnCard& file) { return file.path == one.path; });
  };
  const auto all = in.package.facts.plain_files.view();
  return card::is_for_each_unit(plain) ? std::none_of(all.begin(), all.end(), listed)
                                       : listed(plain);
}

Error model_error(const CardInput& in, const std::string& models) {
  Error error;
  error.kind = ErrorKind::usage;
  error.code = "model-open";
  error.what = "which station model reads this card's plain file does not follow from the card";
  error.found = in.model.empty() ? "no model" : std::string(in.model);
  error.expected = models.empty() ? "a model whose plain file is on the card" : models;
  error.hint = "name it with --model";
  return error;
}

// The allotment names a station, not its model; the model's file on the card tells it.
Try<const format::PlainFileFacts*> plain_of(const CardInput& in) {
  const format::PlainFileFacts* found = nullptr;
  std::string models;
  unsigned count = 0;
  for (const format::PlainFileFacts& plain : in.package.facts.plain_files.view()) {
    if (!is_on_card(in, plain)) {
      continue;
    }
    models += (models.empty() ? "" : " or ") + std::string(plain.model.view());
    if (in.model.empty() || in.model == plain.model.view()) {
      found = &plain;
      ++count;
    }
  }
  if (count != 1) {
    return Unexpected(model_error(in, models));
  }
  return found;
}

void put_checksum(Fields& out, const format::PlainFileFacts& plain) {
  const std::string_view name = plain.shown_checksum.view();
  if (name == "none") {
    return out.show("NO_CHECKSUM");
  }
  Fields& sum = out.add("CHECKSUM");
  sum.set("DIGITS", card::checksum_digits(name, plain.shown_value));
  sum.set("NAME", name);
  if (CrcModel model{}; parse_crc(name, model)) {
    Fields& crc = sum.add("CRC_MODEL");
    crc.set("WIDTH", model.width);
    crc.set("POLY", hex_digits(model.poly, 1));
    crc.set("INIT", hex_digits(model.init, 1));
    crc.set("XOROUT", hex_digits(model.xorout, 1));
    crc.show(model.reflected ? "REFLECTED" : "NOT_REFLECTED");
  }
}

void put_place(Fields& out, const CardInput& in, const format::Placement& p) {
  Fields& row = out.add("PLACE");
  row.set("REGION", p.region.view());
  row.set("FROM", address(p.address));
  row.set("BYTES", p.length);
  row.set("HOW", words_of("encoding", p.encoding, format::encoding_words));
  unit::UnitBytes bytes;
  const unit::Serials serials = unit::serials_of(in.package.manifest, &in.allotment);
  if (unit::bytes_of(serials, p, in.allotment.first, bytes).ok()) {
    row.set("FIRST_BYTES", crypto::hex(bytes.view()));
  }
  if (p.second_byte.present) {
    row.add("SECOND_BYTE").set("BYTE", hex_digits(p.second_byte.value, 2));
  }
}

void put_keyed(Fields& out, const CardInput& in, const format::PlainFileFacts& plain) {
  const format::Manifest& m = in.package.manifest;
  const bool each = card::is_for_each_unit(plain);
  if (each) {
    Fields& files = out.add("UNIT_FILES");
    files.set("FIRST_FILE", card::unit_path(plain, in.allotment.first));
    files.set("LAST_FILE", card::unit_path(plain, in.allotment.first + in.allotment.units - 1));
  } else {
    out.add("ONE_FILE").set("PATH", plain.path.view());
  }
  out.set("MODEL", plain.model.view());
  out.set("LOCK", words_of("lock", m.lock, format::lock_words));
  out.set("ERASE", words_of("erase", m.erase, format::erase_words));
  out.set("BLANK_CHECK", words_of("blank", m.blank_check, format::yes_no_words));
  if (m.stop_after != 0) {
    out.add("STOP").set("COUNT", m.stop_after);
  }
  put_checksum(out, plain);
  if (m.scheme.present && !each) {
    Fields& serials = out.add("COUNTING");
    serials.set("STEP_BY", m.scheme.value.step);
    for (const format::Placement& placement : m.placements.view()) {
      put_place(serials, in, placement);
    }
    for (const format::ExcludedRange& range : m.excluded.view()) {
      Fields& row = serials.add("LEFT_OUT");
      row.set("FIRST_OUT", range.first);
      row.set("LAST_OUT", range.last);
    }
  }
}

} // namespace

// Only stations that check signatures write a log, or have it signed that they write none.
bool is_signed_card(const format::CardIndex& index) {
  return index.log.present || format::works_without_log(index);
}

Try<void> put_plain(Fields& page, const CardInput& in) {
  if (is_signed_card(in.index)) {
    Fields& out = page.add("SIGNED_CARD");
    out.show(in.index.log.present ? "LOG" : "NO_LOG");
    return {};
  }
  Try<const format::PlainFileFacts*> plain = plain_of(in);
  if (!plain) {
    return Unexpected(std::move(plain).error());
  }
  put_keyed(page.add("PLAIN_CARD"), in, **plain);
  return {};
}

} // namespace cardseal::page
