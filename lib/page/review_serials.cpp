#include <fmt/format.h>

#include "crypto/sha256.h"
#include "page/review_parts.h"
#include "page/spell.h"
#include "page/words.h"
#include "serial/proof.h"

namespace cardseal::page {
namespace {

void put_scheme(Fields& out, const format::Manifest& m) {
  const format::Scheme& s = m.scheme.value;
  out.set("SCHEME", s.id.view());
  out.set("FIRST", s.first);
  out.set("STEP_BY", s.step);
  out.set("CAPACITY", s.capacity);
  if (m.alphabet.present) {
    out.add("ALPHABET").set("DIGITS", m.alphabet.value.view());
  }
  if (m.serial_crc.present) {
    Fields& crc = out.add("CRC");
    crc.set("MODEL", m.serial_crc.value.model.view());
    crc.set("ORDER", words_of("order", m.serial_crc.value.order, format::byte_order_words));
  }
  std::size_t index = 0;
  for (const format::ExcludedRange& range : m.excluded.view()) {
    Fields& row = out.add("LEFT_OUT");
    row.set("AT", index++);
    row.set("FIRST_OUT", range.first);
    row.set("LAST_OUT", range.last);
  }
}

void put_part(Fields& out, const format::Part& part) {
  Fields& row = out.add("PART");
  row.set("AT", part.index - 1U);
  row.set("NUMBER", part.index);
  row.set("KIND", words_of("part", part.kind, format::part_kind_words));
  if (part.literal.present) {
    row.add("LITERAL").set("TEXT", part.literal.value.view());
  }
  if (part.base.present) {
    row.add("BASE").set("VALUE", part.base.value);
  }
  if (part.width.present) {
    row.add("WIDTH").set("VALUE", part.width.value);
  }
  if (part.check.present) {
    Fields& check = row.add("CHECK");
    check.set("KIND", words_of("check", part.check.value.kind, format::check_kind_words));
    check.set("FROM", part.check.value.from);
  }
}

void put_placement(Fields& out, const format::Placement& p, std::size_t index) {
  Fields& row = out.add("PLACEMENT");
  row.set("AT", index);
  row.set("REGION", p.region.view());
  row.set("FROM", address(p.address));
  row.set("ADDRESS", p.address);
  row.set("BYTES", p.length);
  row.set("ENCODING", words_of("encoding", p.encoding, format::encoding_words));
  row.set("BEFORE_IT", words_of("before", p.before, format::before_words));
  if (p.parts.present) {
    Fields& parts = row.add("PARTS");
    parts.set("FIRST_PART", p.parts.value.first);
    parts.set("LAST_PART", p.parts.value.last);
  }
  if (p.padding.present) {
    row.add("PADDING").set("BYTE", hex_digits(p.padding.value, 2));
  }
  if (p.second_byte.present) {
    row.add("SECOND_BYTE").set("BYTE", hex_digits(p.second_byte.value, 2));
  }
  row.show_if(format::is_yes(p.crc), "WITH_CRC");
}

// A unit whose text needs a date code or class has none here: an allotment states them.
void put_proof_unit(Fields& table, const format::Manifest& m, const serial::ProofUnit& each) {
  const unit::Serials serials = unit::serials_of(m);
  Fields& row = table.add("UNIT");
  row.set("ORDINAL", each.ordinal);
  row.set("WHY", each.why);
  std::uint64_t number = 0;
  unit::UnitText text;
  if (unit::number_of(serials, each.ordinal, number).ok()) {
    row.add("NUMBER").set("VALUE", number);
  }
  if (unit::text_of(serials, each.ordinal, text).ok()) {
    row.add("TEXT").set("VALUE", text.view());
  } else {
    row.show("TEXT_BY_LOT");
  }
  for (const format::Placement& placement : m.placements.view()) {
    Fields& cell = row.add("BYTES");
    cell.set("REGION", placement.region.view());
    cell.set("FROM", address(placement.address));
    unit::UnitBytes bytes;
    if (unit::bytes_of(serials, placement, each.ordinal, bytes).ok()) {
      cell.add("KNOWN").set("HEX", crypto::hex(bytes.view()));
    } else {
      cell.show("BYTES_BY_LOT");
    }
  }
}

// What of a unit's text only a lot knows.
void put_open_parts(Fields& out, const format::Manifest& m) {
  Fields open;
  for (const format::Part& part : m.parts.view()) {
    if (part.kind == format::PartKind::date_code || part.kind == format::PartKind::work_class) {
      open.add("OPEN_PART").set("KIND", words_of("part", part.kind, format::part_kind_words));
    }
  }
  if (!open.sections().empty()) {
    out.add("OPEN_PARTS") = std::move(open);
  }
}

} // namespace

void put_serials(Fields& page, const format::Manifest& m) {
  if (!m.scheme.present) {
    return page.show("NO_SERIALS");
  }
  Fields& out = page.add("SERIALS");
  put_scheme(out, m);
  for (const format::Part& part : m.parts.view()) {
    put_part(out, part);
  }
  std::size_t index = 0;
  for (const format::Placement& placement : m.placements.view()) {
    put_placement(out, placement, index++);
    Fields& head = out.add("PROOF_HEAD");
    head.set("REGION", placement.region.view());
    head.set("FROM", address(placement.address));
  }
  put_open_parts(out, m);
  const unit::Serials serials = unit::serials_of(m);
  for (const serial::ProofUnit& each :
       serial::proof_units(serials, 0, m.scheme.value.capacity - 1)) {
    put_proof_unit(out, m, each);
  }
}

} // namespace cardseal::page
