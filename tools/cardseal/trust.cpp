#include "commands_trust.h"
#include "common.h"

#include <fmt/format.h>

#include "trust_parts.h"

namespace cardseal::tool {
Ran run_trust_new(const TrustNewOptions& options) {
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(time, time_or_now(options.time));
  format::TrustList list;
  list.owner = root.owner;
  list.root_version = root.root.version;
  list.time = time;
  list.persons = root.root.persons;
  TRY(text, seal::spell(list));
  TRY_VOID(seal::write_signed(io::real_system(), options.output, {text, {}}, io::IfExists::refuse));
  describe_list(list, 0);
  note("next: cardseal trust add, then cardseal trust sign");
  return 0;
}

} // namespace cardseal::tool
