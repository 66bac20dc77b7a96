#include "page/card_parts.h"

#include <fmt/format.h>

#include "card/unit_words.h"
#include "crypto/sha256.h"
#include "page/code.h"
#include "page/review_parts.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

// Boards that have numbers, by what stands on their labels.
Try<void> put_boards(Fields& page, const CardInput& in) {
  const format::Allotment& a = in.allotment;
  Fields& boards = page.add("BOARDS_BACK");
  boards.show(a.numbers == format::Numbers::kept ? "READ_FIRST" : "STATED");
  for (const format::OrdinalRange& span : a.spans.view()) {
    Try<std::string> first = card::unit_words(in.package.manifest, span.first, &a);
    Try<std::string> last = card::unit_words(in.package.manifest, span.last, &a);
    if (!first || !last) {
      return Unexpected(!first ? std::move(first).error() : std::move(last).error());
    }
    Fields& group = boards.add("GROUP");
    group.set("FIRST", *first);
    if (span.first != span.last) {
      group.add("MORE").set("LAST", *last);
    }
  }
  return {};
}

Try<void> put_units(Fields& page, const CardInput& in) {
  const format::Allotment& a = in.allotment;
  page.set("UNITS", a.units);
  if (a.count == 0 || !in.package.manifest.scheme.present) {
    page.show("NO_SERIALS");
    return {};
  }
  if (a.numbers != format::Numbers::fresh) {
    return put_boards(page, in);
  }
  Try<std::string> first = card::unit_words(in.package.manifest, a.first, &a);
  Try<std::string> last = card::unit_words(in.package.manifest, a.first + a.count - 1, &a);
  if (!first || !last) {
    return Unexpected(!first ? std::move(first).error() : std::move(last).error());
  }
  Fields& serials = page.add("SERIALS");
  serials.set("FIRST", *first);
  serials.set("LAST", *last);
  return {};
}

} // namespace

Try<void> put_card(Fields& page, const CardInput& in) {
  const format::Allotment& a = in.allotment;
  const format::Manifest& m = in.package.manifest;
  page.set("CARD", crypto::hex(a.card));
  page.set("STATION", a.station.view());
  page.set("WORK_ORDER", a.work_order.view());
  page.set("CLASS", words_of("class", a.work_class, format::work_class_words));
  if (a.date_code.present) {
    page.add("DATE_CODE").set("TEXT", a.date_code.value.view());
  }
  if (in.jobs > 1) {
    Fields& jobs = page.add("OF_JOBS");
    jobs.set("JOB", in.job);
    jobs.set("JOBS", in.jobs);
  } else {
    page.show("ONE_JOB");
  }
  page.set("PRODUCT", m.product.view());
  page.set("RELEASE", m.release.view());
  page.set("TITLE", m.title.view());
  page.set("FINGERPRINT", grouped(in.package.manifest_digest));
  put_device(page, m);
  for (const package::SignoffEntry& entry : in.package.signoffs) {
    Fields& row = page.add("SIGNED");
    row.set("PERSON", entry.signoff.person.view());
    row.set("ROLE", words_of("role", entry.signoff.role, format::role_words));
    row.set("TIME", time_words(entry.signoff.time));
  }
  return put_units(page, in);
}

Try<void> put_code(Fields& page, const CardInput& in, CodeKind kind) {
  const std::string text = fmt::format("CARD {} PACKAGE {}", crypto::hex(in.allotment.card),
                                       crypto::hex(in.package.manifest_digest));
  Try<Code> code = make_code(kind, text);
  if (!code) {
    return Unexpected(std::move(code).error());
  }
  constexpr unsigned quiet = 4; // modules of white around, as ISO/IEC 18004 asks; 16022 asks for 1
  page.set("CODE_WIDTH", code->width + 2 * quiet);
  page.set("CODE_HEIGHT", code->height + 2 * quiet);
  page.set("CODE_PATH", code->path);
  return {};
}

} // namespace cardseal::page
