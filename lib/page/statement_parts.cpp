#include "page/statement_parts.h"

#include "page/frame.h"
#include "page/lot_parts.h"

namespace cardseal::page {
namespace {

// The list knows the person, else the signature would not count.
std::string_view name_of(const format::Id& person, const format::TrustList& list) {
  for (const format::Person& each : list.persons.view()) {
    if (each.id == person) {
      return each.name.view();
    }
  }
  return person.view();
}

void put_standing(Fields& page, const format::Id& person, const StatementInput& in) {
  if (in.signer == nullptr) {
    page.show("KEY_UNKNOWN");
    return page.show(in.is_signed ? "STATEMENT_NOT_JUDGED" : "STATEMENT_UNSIGNED");
  }
  Fields& good = page.add("STATEMENT_GOOD");
  good.set("LIST", in.signer->list.sequence);
  good.set("ROOT", in.signer->root_version);
  good.set("KEY", crypto::hex(in.signer->key));
  good.set("NAME", name_of(person, in.signer->list));
  page.add("NAMED").set("NAME", name_of(person, in.signer->list));
}

} // namespace

void put_statement(Fields& page, const format::Id& person, const StatementInput& in,
                   bool from_logs) {
  page.set("DIGEST", crypto::spell_digest(in.digest));
  put_standing(page, person, in);
  if (in.registered != nullptr) {
    page.show(in.registered->keeps_text ? "IN_REGISTER" : "NOT_IN_REGISTER");
  }
  put_sources(page, in.sources, from_logs);
  if (!in.packages.empty()) {
    put_signed_by(page.add("WITH_PACKAGES"), in.packages);
  }
  put_printed_copy(page, "statement");
}

const package::Package* package_of(const StatementInput& in, const format::Digest& manifest) {
  for (const package::Package* package : in.packages) {
    if (package->manifest_digest == manifest) {
      return package;
    }
  }
  return nullptr;
}

} // namespace cardseal::page
