#include "page/lot_parts.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "page/spell.h"
#include "page/words.h"
#include "trace/trace.h"

namespace cardseal::page {
namespace {

void put_signature(Fields& table, const package::SignoffEntry& entry) {
  const format::Signoff& s = entry.signoff;
  Fields& row = table.add("SIGNED");
  row.set("PERSON", s.person.view());
  row.set("ROLE", words_of("role", s.role, format::role_words));
  row.set("MEANING", s.meaning.view());
  row.set("REASON", s.reason.view());
  row.set("TIME", time_words(s.time));
  row.set("KEY", crypto::hex(s.key));
  row.set("DIGEST", crypto::spell_digest(entry.digest));
}

} // namespace

std::string per_cent(double part) {
  return fmt::format("{:.1f} %", 100 * part);
}

std::string share(std::uint64_t part, std::uint64_t all) {
  return all == 0 ? "-" : per_cent(static_cast<double>(part) / static_cast<double>(all));
}

void put_sources(Fields& page, const std::vector<std::string>& sources, bool from_logs) {
  page.show_if(from_logs, "FROM_LOGS");
  for (const std::string& source : sources) {
    page.add("SOURCE").set("WORDS", source);
  }
}

void put_signed_by(Fields& page, const std::vector<const package::Package*>& packages) {
  page.show_if(packages.empty(), "NO_PACKAGES");
  for (const package::Package* package : packages) {
    Fields& out = page.add("PACKAGE_SIGNED");
    out.set("PRODUCT", package->manifest.product.view());
    out.set("RELEASE", package->manifest.release.view());
    out.set("PACKAGE", crypto::spell_digest(package->manifest_digest));
    out.show_if(package->signoffs.empty(), "NO_SIGNOFFS");
    Fields table;
    for (const package::SignoffEntry& entry : package->signoffs) {
      put_signature(table, entry);
    }
    if (!table.sections().empty()) {
      out.add("SIGNATURES") = std::move(table);
    }
  }
}

void put_fates(Fields& row, const std::vector<registry::FateRow>& fates) {
  for (const registry::FateRow& each : fates) {
    Fields& fate = row.add("FATE");
    fate.set("WHAT", words_of("fate", each.note.fate, registry::fate_words));
    fate.set("TIME", each.time);
    fate.set("BY", each.note.by);
    fate.set("NOTE", each.note.note);
  }
}

void put_allotment(Fields& row, const std::vector<const package::Package*>& packages,
                   const registry::AllotmentRow& allotment) {
  row.set("CARD", crypto::hex(allotment.card));
  row.set("STATION", allotment.station);
  row.set("WORK_ORDER", allotment.work_order);
  row.set("UNITS", allotment.units);
  std::vector<registry::Range> spans = allotment.again; // as many ordinals as there are units
  if (spans.empty()) {
    spans.push_back({0, std::max<std::uint64_t>(allotment.units, 1)});
  }
  std::uint64_t unit = 0;
  for (const registry::Range& span : spans) {
    Fields& out = row.add("UNIT_SPAN");
    out.set("FIRST", trace::label_of(packages, allotment, unit));
    unit += span.count;
    if (span.count > 1) {
      out.add("MANY").set("LAST", trace::label_of(packages, allotment, unit - 1));
    }
  }
}

} // namespace cardseal::page
