#include "label.h"

#include "trace/trace.h"

namespace cardseal::tool {

Try<std::uint64_t> ordinal_of(const package::Package& package, const std::string& serial) {
  const std::optional<std::uint64_t> ordinal = trace::ordinal_of(package, serial);
  if (!ordinal) {
    return Unexpected(error_of(ErrorKind::usage, "no-serial", "the package makes no such serial",
                               serial, "a serial as it stands on the label",
                               "look at the label again"));
  }
  return *ordinal;
}

} // namespace cardseal::tool
