// The sealed texts that a station reads, and facts: canonical or refused.
#include <memory>
#include <vector>

#include "claim.h"
#include "format/card_texts.h"
#include "format/codec.h"
#include "format/facts.h"
#include "format/lot_texts.h"
#include "format/manifest.h"
#include "format/root.h"
#include "format/signoff.h"
#include "format/trust_list.h"

namespace {

using namespace cardseal;

template <class T>
bool claim_kind(ByteView text) {
  const auto value = std::make_unique<T>();
  if (!format::decode(text, *value).ok()) {
    return false;
  }
  std::vector<std::uint8_t> out(T::limit + 1);
  Outcome outcome;
  const std::size_t size = format::encode(*value, out, outcome);
  fuzz::claim(outcome.ok() && equal(ByteView(out).first(size), text),
              "an accepted text is the one that its values are sealed as");
  return true;
}

template <class... Kind>
void claim_kinds(ByteView text) {
  fuzz::claim((int{claim_kind<Kind>(text)} + ...) <= 1, "a text is of one kind");
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  claim_kinds<format::Root, format::TrustList, format::Manifest, format::Signoff,
              format::Withdrawal, format::Allotment, format::CardIndex, format::Facts,
              format::FirstArticle, format::Concession, format::Close>(ByteView(data, size));
  return 0;
}
