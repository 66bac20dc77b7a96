#include "page/render.h"
#include "page/review_parts.h"
#include "page/statement_parts.h"

namespace cardseal::page {
namespace {

using format::FirstArticle;

void put_region(Fields& row, std::string_view region, std::uint64_t first, std::uint64_t bytes) {
  Fields& out = row.add("REGION_AT");
  out.set("REGION", region);
  out.set("FROM", address(first));
  out.set("TO", address(first + bytes - 1));
}

void put_serial_regions(Fields& row, const format::Manifest& m) {
  for (const format::Placement& placement : m.placements.view()) {
    put_region(row, placement.region.view(), placement.address, placement.length);
  }
}

void put_kept_regions(Fields& row, const format::Manifest& m) {
  for (const format::KeptRange& kept : m.kept.view()) {
    put_region(row, kept.region.view(), kept.address, kept.length);
  }
}

using PutRegions = void (*)(Fields&, const format::Manifest&);

struct CauseOf {        // a count of the text
  std::string_view key; // in the JSON and in the words
  std::uint32_t bytes;
  PutRegions regions; // as the package has them; null: it does not say
};

void put_cause(Fields& page, const CauseOf& cause, const package::Package* package) {
  Fields& row = page.add("CAUSE");
  row.set("KEY", cause.key);
  row.set("NAME", words_of("cause", cause.key));
  row.set("EXPLAINED", words_of("cause-means", cause.key));
  row.set("BYTES", cause.bytes);
  if (package != nullptr && cause.regions != nullptr) {
    cause.regions(row, package->manifest);
  }
  if (!row.sections().contains("REGION_AT")) {
    row.add("NO_REGION").set("WORDS", words_of("cause-where", cause.key));
  }
}

void put_causes(Fields& page, const FirstArticle& f, const package::Package* package) {
  const CauseOf causes[] = {{"serial_bytes", f.serial_bytes, put_serial_regions},
                            {"kept_bytes", f.kept, put_kept_regions},
                            {"configuration_bytes", f.configuration, nullptr},
                            {"unreadable_bytes", f.unreadable, nullptr},
                            {"equal_bytes", f.equal, nullptr},
                            {"erased_bytes", f.erased, nullptr}};
  std::uint64_t compared = 0;
  for (const CauseOf& cause : causes) {
    put_cause(page, cause, package);
    compared += cause.bytes;
  }
  page.set("COMPARED", compared);
  page.set("DIFFERENT", compared - f.equal - f.erased);
}

void put_package(Fields& page, const package::Package* package) {
  if (package == nullptr) {
    return page.show("NO_ARTICLE_PACKAGE");
  }
  const format::Manifest& m = package->manifest;
  Fields& out = page.add("ARTICLE_PACKAGE");
  out.set("RELEASE", m.release.view());
  out.set("BOARD", m.board.view());
  out.set("BOARD_REVISION", m.board_revision);
  out.set("DEVICE", m.device.view());
  out.set("IMAGE_DIGEST", crypto::hex(m.image_digest));
  out.set("IMAGE_SIZE", m.image_size);
  out.set("FIRMWARE_NAME", package->facts.firmware_name.view());
  out.set("FIRMWARE_DIGEST", crypto::hex(package->facts.firmware_digest));
}

} // namespace

std::string statement_page(const FirstArticle& f, const StatementInput& in) {
  Fields page;
  put_signed(page, f, in, false);
  page.set("CARD", crypto::hex(f.card));
  page.set("PRODUCT", f.product.view());
  page.set("PACKAGE", crypto::spell_digest(f.manifest));
  page.set("READ_BACK", crypto::spell_digest(f.read_back));
  page.set("ORDINAL", f.ordinal);
  if (f.serial.present) {
    page.add("SERIAL_TEXT").set("TEXT", f.serial.value.view());
  } else {
    page.show("NO_SERIALS");
  }
  const package::Package* package = package_of(in, f.manifest);
  put_package(page, package);
  put_causes(page, f, package);
  return render("first-article.html", page);
}

} // namespace cardseal::page
