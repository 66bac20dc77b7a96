#include "label.h"

#include "base/number.h"
#include "unit/unit.h"

namespace cardseal::tool {

Try<std::uint64_t> ordinal_of(const package::Package& package, const std::string& serial) {
  const format::Manifest& m = package.manifest;
  std::uint64_t ordinal = 0;
  std::uint64_t number = 0;
  const bool known = m.scheme.present &&
                     (m.parts.view().empty()
                          ? parse_uint(serial, number) &&
                                unit::ordinal_of_number(unit::serials_of(m), number, ordinal).ok()
                          : unit::ordinal_of_text(unit::serials_of(m), serial, ordinal).ok());
  if (!known) {
    Error error = usage_error("the package makes no such serial", serial,
                              "a serial as it stands on the label", "look at the label again");
    error.code = "no-serial";
    return Unexpected(std::move(error));
  }
  return ordinal;
}

} // namespace cardseal::tool
