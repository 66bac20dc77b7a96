#include "card/sheet.h"
#include "page/card_parts.h"
#include "page/draw.h"
#include "page/render.h"
#include "page/review_parts.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

void put_job(Fields& page, const CardInput& in) {
  const format::Manifest& m = in.package.manifest;
  const std::uint32_t enabled = in.allotment.enabled_slots;
  put_slots(page, enabled, m.slots);
  page.set("SLOTS", card::slot_words(enabled, m.slots));
  page.set("SUPPLY", card::volts(m.supply_mv));
  page.set("SUPPLY_SOURCE", words_of("source", m.supply_source, format::supply_source_words));
  page.set("VERIFY", words_of("verify", m.verify, format::verify_words));
  if (m.verify_limits.present) {
    Fields& limits = page.add("VERIFY_LIMITS");
    limits.set("LOW", card::volts(m.verify_limits.value.low_mv));
    limits.set("HIGH", card::volts(m.verify_limits.value.high_mv));
  }
  put_cautions(page, in.package);
  put_steps(page, in.package.facts);
  put_panel(page, in.package.facts, enabled);
  put_deviations(page, in.package.facts);
}

} // namespace

Try<std::string> sheet_page(const CardInput& input) {
  Fields page;
  if (Try<void> put = put_card(page, input); !put) {
    return Unexpected(std::move(put).error());
  }
  put_job(page, input);
  put_refusals(page);
  if (Try<void> put = put_plain(page, input); !put) {
    return Unexpected(std::move(put).error());
  }
  if (Try<void> put = put_code(page, input, CodeKind::qr); !put) {
    return Unexpected(std::move(put).error());
  }
  return render("sheet.html", page);
}

Try<std::string> label_page(const CardInput& input, CodeKind kind) {
  Fields page;
  if (Try<void> put = put_card(page, input); !put) {
    return Unexpected(std::move(put).error());
  }
  page.show(is_signed_card(input.index) ? "SIGNED_CARD" : "PLAIN_CARD");
  if (Try<void> put = put_code(page, input, kind); !put) {
    return Unexpected(std::move(put).error());
  }
  return render("label.html", page);
}

} // namespace cardseal::page
