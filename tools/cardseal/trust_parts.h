// What the commands about root and trust list share.
#pragma once

#include "common.h"
#include "seal/trust_edit.h"

namespace cardseal::tool {

Error bad_part(const char* what, const std::string& found, const char* expected);

Try<format::Person> to_person(const std::string& text); // ID:NAME

template <class T>
Try<void> add_persons(const std::vector<std::string>& texts, T& out) {
  for (const std::string& text : texts) {
    TRY(person, to_person(text));
    if (!out.persons.add(person)) {
      return Unexpected(seal::trust_full("persons", out.persons.capacity()));
    }
  }
  return {};
}

// Where the list that a draft follows is kept, with its signatures: "owner.trust.before".
io::Path kept_before(const std::string& list);

// A signature that stations will follow is not given in passing: what is signed is typed, or given
// by --confirm.
Try<void> confirm(const std::string& name, const std::string& given);

void describe_list(const format::TrustList& list, std::size_t signatures);

} // namespace cardseal::tool
