#include "package/scheme_definition.h"

#include <vector>

#include "format/writer.h"

namespace cardseal::package {

crypto::Digest scheme_definition(const format::Manifest& manifest) {
  format::Manifest only = manifest;
  only.scheme.value.capacity = 1;
  only.serial_crc = {};
  only.placements = {};
  std::vector<std::uint8_t> text(format::Manifest::limit);
  format::TextWriter writer(text);
  format::visit_serial(writer, only);
  return crypto::sha256(ByteView(text).first(writer.size()));
}

} // namespace cardseal::package
