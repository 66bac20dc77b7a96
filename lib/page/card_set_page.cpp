#include "card/sheet.h"
#include "crypto/sha256.h"
#include "page/frame.h"
#include "page/lot_parts.h"
#include "page/render.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

bool is_written(const CardOfSet& card) {
  return card.row.fate.has_value();
}

void put_digest(Fields& row, std::string_view there, std::string_view missing,
                const std::optional<format::Digest>& digest) {
  if (digest) {
    row.add(there).set("DIGEST", crypto::spell_digest(*digest));
  } else {
    row.show(missing);
  }
}

void put_release(Fields& row, const SetInput& in, const registry::AllotmentRow& allotment) {
  row.set("PRODUCT", allotment.product);
  row.set("CLASS", words_of("class", allotment.work_class));
  for (const package::Package* package : in.packages) {
    if (package->manifest_digest == allotment.manifest) {
      row.add("KNOWN").set("RELEASE", package->manifest.release.view());
    }
  }
  if (allotment.date_code) {
    row.add("DATE_CODE").set("TEXT", *allotment.date_code);
  }
}

void put_card_row(Fields& page, const SetInput& in, const CardOfSet& card) {
  const registry::AllotmentRow& allotment = card.row;
  Fields& row = page.add("CARD_ROW");
  put_allotment(row, in.packages, allotment);
  put_release(row, in, allotment);
  row.show_if(allotment.work_order != in.work_order, "MERGED");
  row.show_if(card.fates.empty(), "NO_FATE");
  put_fates(row, card.fates);
  row.set("AT", allotment.id - 1); // in the register's list
  row.show(allotment.spare ? "SPARE" : "WORKING");
  const auto slots = static_cast<std::uint32_t>(allotment.enabled_slots);
  row.set("SLOTS", card::slot_words(slots, slots));
  row.set("MANIFEST", crypto::spell_digest(allotment.manifest));
  row.set("TIME", allotment.time);
  row.set("SERIAL_OF_STATION", allotment.serial);
  row.set("ENROLMENT", allotment.enrolment);
  put_digest(row, "IMAGE", "NO_IMAGE", card.image);
  put_digest(row, "SEALED", "NOT_SEALED", allotment.sealed_text);
}

} // namespace

std::string card_set_page(const SetInput& in) {
  Fields page;
  std::uint64_t units = 0;
  std::uint64_t spares = 0;
  std::uint64_t open = 0;
  for (const CardOfSet& card : in.cards) {
    units += card.row.units;
    spares += card.row.spare ? 1 : 0;
    open += is_written(card) ? 0 : 1;
    put_card_row(page, in, card);
  }
  page.set("WORK_ORDER", in.work_order);
  page.set("CARDS", in.cards.size());
  page.set("SPARES", spares);
  page.set("UNITS", units);
  if (open != 0) {
    page.add("NOT_ALL_WRITTEN").set("COUNT", open);
  }
  put_sources(page, in.sources, false);
  put_signed_by(page, in.packages);
  put_printed_copy(page, "card-set");
  return render("card-set.html", page);
}

} // namespace cardseal::page
