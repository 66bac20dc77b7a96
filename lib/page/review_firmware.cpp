#include "card/sheet.h"
#include "crypto/sha256.h"
#include "page/draw.h"
#include "page/review_parts.h"
#include "page/spell.h"
#include "page/words.h"

namespace cardseal::page {
namespace {

void put_checksums(Fields& page, const format::Facts& f) {
  std::size_t index = 0;
  for (const format::Checksum& c : f.checksums.view()) {
    Fields& row = page.add("CHECKSUM");
    row.set("AT", index++);
    row.set("NAME", c.name.view());
    row.set("OVER", words_of("over", c.over.view()));
    row.set("DIGITS", card::checksum_digits(c.name.view(), c.value));
    row.set("VALUE", c.value);
    row.set("FILL_DIGITS", hex_digits(c.fill, 2));
    row.set("FILL", c.fill);
  }
}

void put_documents(Fields& page, const format::Manifest& m) {
  if (m.files.count == 0) {
    return page.show("NO_DOCUMENTS");
  }
  Fields& table = page.add("DOCUMENTS");
  std::size_t index = 0;
  for (const format::SealedFile& file : m.files.view()) {
    Fields& row = table.add("DOCUMENT");
    row.set("AT", index++);
    row.set("NAME", file.name.view());
    row.set("SIZE", file.size);
    row.set("DIGEST", crypto::spell_digest(file.digest));
  }
}

void put_configuration(Fields& page, const format::Facts& f) {
  page.set("CONFIGURATION",
           words_of("configuration", f.configuration, format::configuration_words));
  if (f.config_fields.count == 0) {
    return;
  }
  Fields& table = page.add("CONFIG_FIELDS");
  std::size_t index = 0;
  for (const format::ConfigFact& field : f.config_fields.view()) {
    Fields& row = table.add("CONFIG_FIELD");
    row.set("AT", index++);
    row.set("FIELD", field.field.view());
    row.set("BITS_DIGITS", hex_digits(field.bits, 1));
    row.set("BITS", field.bits);
    row.set("MEANING", field.meaning.view());
  }
}

} // namespace

void put_firmware(Fields& page, const package::Package& package) {
  const format::Manifest& m = package.manifest;
  const format::Facts& f = package.facts;
  page.set("FIRMWARE_NAME", f.firmware_name.view());
  page.set("FIRMWARE_SIZE", f.firmware_size);
  page.set("FIRMWARE_DIGEST", crypto::hex(f.firmware_digest));
  page.set("FIRMWARE_FORMAT",
           words_of("firmware", f.firmware_format, format::firmware_format_words));
  page.set("IMAGE_SIZE", m.image_size);
  page.set("IMAGE_DIGEST", crypto::hex(m.image_digest));
  page.set("CHAIN_HEAD", crypto::spell_digest(m.chain_head));
  page.set("SEGMENT_COUNT", m.segments.count);
  put_checksums(page, f);
  put_memory(page, m);
  page.show_if(f.configuration == format::Configuration::in_firmware, "CONFIGURATION_INSIDE");
  put_configuration(page, f);
  put_documents(page, m);
}

} // namespace cardseal::page
