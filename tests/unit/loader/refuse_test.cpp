// Every numbered reason that a card or its texts can give, each by a card that is good but for one
// thing. Tags name the number, so that a build without that one check can be held against its test.
#include "station_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// The number of the reason; 0 when the card is admitted.
int reason(CardKit& kit) {
  Bench bench(kit);
  return static_cast<int>(bench.admit().fault);
}

Outcome answer(CardKit& kit) {
  Bench bench(kit);
  return bench.admit();
}

void use_engineering(CardKit& kit) {
  SignedSignoff only = kit.signoffs[0];
  only.by = Who::engineering;
  only.signoff.role = format::Role::engineering;
  only.signoff.person = id("edda");
  only.signoff.key = key_of(Who::engineering).public_key();
  kit.signoffs = {only};
  kit.manifest.title = text<24>("NOT SHIP trial");
  kit.allotment.work_class = format::WorkClass::engineering;
  kit.list.windows.items[0].use = format::WindowUse::engineering;
}

} // namespace

TEST_CASE("a sign-off made under a newer trust list is refused", "[check-356]") {
  CardKit kit;
  kit.on_signoff = [](std::size_t i, format::Signoff& s) { s.trust_sequence = i == 1 ? 4 : 3; };
  CHECK(reason(kit) == 356);
}

// The card index is compared with the package first, so only the rule itself can be asked.
TEST_CASE("an allotment for another package is refused", "[check-383]") {
  CardKit kit;
  (void)kit.build();
  const auto list = std::make_unique<format::TrustList>();
  REQUIRE(format::decode(kit.list_text, *list).ok());
  const auto allotment = std::make_unique<format::Allotment>();
  REQUIRE(format::decode(kit.allotment_text, *allotment).ok());
  const trust::RootView root{kit.root, kit.owner()};
  trust::PackageVerdict verdict;
  verdict.manifest_digest = digest_of(kit.manifest_text);
  const trust::JobInput job{kit.manifest, verdict, kit.allotment.card, {}, {}};
  format::TrustedKey signer;
  signer.key = key_of(Who::allot).public_key();
  CHECK(trust::judge_allotment_text(root, *list, signer, job, *allotment).ok());
  allotment->manifest[0] ^= 1;
  CHECK(static_cast<int>(trust::judge_allotment_text(root, *list, signer, job, *allotment).fault) ==
        383);
}

TEST_CASE("an allotment by a key enrolled for another product is refused", "[check-352]") {
  CardKit kit;
  kit.on_list = [](format::TrustList& l) {
    for (format::TrustedKey& key : l.keys.view()) {
      if (key.role == format::Role::allot) {
        key.product.set(id("other"));
      }
    }
  };
  CHECK(reason(kit) == 352);
}

TEST_CASE("a root of another owner is refused", "[check-301]") {
  CardKit kit;
  Bench bench(kit.build());
  format::StateHead head = Bench::head_of(kit);
  head.owner[0] ^= 1;
  bench.enrol(kit, head);
  CHECK(static_cast<int>(bench.admit().fault) == 301);
}

TEST_CASE("a trust list or index made under a newer root is refused as such", "[check-302]") {
  CardKit list;
  list.on_list = [](format::TrustList& l) { l.root_version = 2; };
  CHECK(reason(list) == 302);
  CardKit index;
  index.index.root_version = 2;
  CHECK(reason(index) == 302);
}

TEST_CASE("a trust list without enough root signatures is refused", "[check-303]") {
  CardKit none;
  none.list_signers.clear();
  CHECK(reason(none) == 303);
  CardKit one_of_two;
  one_of_two.root.threshold = 2;
  one_of_two.root.persons.add({id("birk"), text<24>("Birk Tarn")});
  one_of_two.root.keys.add({key_of(Who::root_b).public_key(), id("birk")});
  std::sort(one_of_two.root.keys.items.begin(), one_of_two.root.keys.items.begin() + 2,
            [](const auto& a, const auto& b) { return a.key < b.key; });
  CHECK(reason(one_of_two) == 303);
}

TEST_CASE("two signatures of one person count once", "[check-303]") {
  CardKit kit;
  kit.root.threshold = 2;
  kit.root.persons.add({id("birk"), text<24>("Birk Tarn")});
  kit.root.keys.add({key_of(Who::root_b).public_key(), id("asta")});
  kit.list_signers = {Who::root_a, Who::root_b};
  if (key_of(Who::root_b).public_key() < key_of(Who::root_a).public_key()) {
    std::swap(kit.root.keys.items[0], kit.root.keys.items[1]);
    std::swap(kit.list_signers[0], kit.list_signers[1]);
  }
  CHECK(reason(kit) == 303);
}

TEST_CASE("a trust list of another owner is refused", "[check-304]") {
  CardKit kit;
  kit.on_list = [](format::TrustList& l) { l.owner[5] ^= 1; };
  CHECK(reason(kit) == 304);
}

TEST_CASE("a trust list made under an older root is refused", "[check-305]") {
  CardKit kit;
  kit.next_roots = {{kit.root, {Who::root_a}}};
  kit.index.root_version = 2;
  CHECK(reason(kit) == 305);
  kit.list.root_version = 2;
  CHECK(reason(kit) == 0);
}

TEST_CASE("windows that share a number are refused, whosever they are", "[check-308]") {
  const auto widened = [](Who other, std::uint64_t first) {
    CardKit kit;
    kit.on_list = [=](format::TrustList& l) {
      format::Window second = l.windows.items[0];
      second.key = key_of(other).public_key();
      second.first = first;
      second.last = l.windows.items[0].last + 1;
      l.windows.add(second);
      std::sort(l.windows.items.begin(), l.windows.items.begin() + l.windows.count,
                [](const auto& a, const auto& b) {
                  return a.key != b.key ? a.key < b.key : a.first < b.first;
                });
    };
    return reason(kit);
  };
  const std::uint64_t last = 4999; // of the kit's own window
  CHECK(widened(Who::allot, last) == 308);
  CHECK(widened(Who::quality, last) == 308);
  CHECK(widened(Who::quality, last + 1) == 0);
}

TEST_CASE("without any trust list nothing is admitted", "[check-307]") {
  CardKit kit;
  kit.with_list = false;
  CHECK(reason(kit) == 307);
}

TEST_CASE("a card index without an active allot key's signature is refused", "[check-311]") {
  for (const Who who : {Who::release, Who::stranger, Who::root_a}) {
    CardKit kit;
    kit.index_signer = who;
    CHECK(reason(kit) == 311);
  }
  CardKit revoked;
  revoked.list.keys.items[2].state = format::KeyState::revoked;
  CHECK(reason(revoked) == 311);
  CardKit other_text;
  other_text.on_card = [](auto& files) { files["CARDSEAL/CARD.TXT"].back() = ' '; };
  CHECK(reason(other_text) == 311);
}

TEST_CASE("a card index of another owner is refused", "[check-312]") {
  CardKit kit;
  kit.on_index = [](format::CardIndex& i) { i.owner[0] ^= 1; };
  CHECK(reason(kit) == 312);
}

TEST_CASE("a card index that names a newer trust list is refused", "[check-313]") {
  CardKit kit;
  kit.index.trust_sequence = 4;
  CHECK(reason(kit) == 313);
}

TEST_CASE("a card index made under an older root is refused", "[check-314]") {
  CardKit kit;
  kit.next_roots = {{kit.root, {Who::root_a}}};
  kit.list.root_version = 2;
  CHECK(reason(kit) == 314);
  kit.index.root_version = 2;
  CHECK(reason(kit) == 0);
}

TEST_CASE("a signature that is not 64 bytes in form is refused with its place", "[check-321]") {
  CardKit short_one;
  short_one.on_card = [](auto& files) { files["CARDSEAL/CARD.S01"].pop_back(); };
  CHECK(reason(short_one) == 321);
  CardKit list;
  list.on_card = [](auto& files) {
    Bytes& signature = files["CARDSEAL/TRUST.S01"];
    std::fill(signature.begin() + 32, signature.end(), 0xFF); // S >= L
  };
  CHECK(reason(list) == 321);
}

TEST_CASE("a trust list signed by a stranger is refused", "[check-322]") {
  CardKit kit;
  kit.list_signers = {Who::stranger};
  CHECK(reason(kit) == 322);
  CardKit sign_off;
  sign_off.signoffs[1].by = Who::stranger;
  const Outcome outcome = answer(sign_off);
  CHECK(static_cast<int>(outcome.fault) == 322);
  CHECK(outcome.item == 1);
}

TEST_CASE("root signatures out of order, or one twice, are refused", "[check-323]") {
  CardKit twice;
  twice.list_signers = {Who::root_a, Who::root_a};
  const Outcome outcome = answer(twice);
  CHECK(static_cast<int>(outcome.fault) == 323);
  CHECK(outcome.item == 1);
}

TEST_CASE("a package without a release sign-off is refused", "[check-341]") {
  CardKit kit;
  kit.signoffs.erase(kit.signoffs.begin());
  CHECK(reason(kit) == 341);
}

TEST_CASE("a package without a quality sign-off is refused", "[check-342]") {
  CardKit kit;
  kit.signoffs.pop_back();
  CHECK(reason(kit) == 342);
}

TEST_CASE("a list can ask for two quality persons", "[check-342]") {
  CardKit kit;
  kit.list.thresholds.add({format::Role::quality, 2});
  CHECK(reason(kit) == 342);
}

TEST_CASE("one person in two roles is refused", "[check-343]") {
  CardKit kit;
  for (format::TrustedKey& key : kit.list.keys.view()) {
    if (key.role == format::Role::quality) {
      key.person = id("rolf");
    }
  }
  kit.signoffs[1].signoff.person = id("rolf");
  CHECK(reason(kit) == 343);
}

TEST_CASE("sign-offs whose claims do not fit are refused with their index",
          "[check-344][check-345][check-346][check-347][check-348][check-349][check-350]") {
  struct Case {
    int expected;
    std::function<void(format::Signoff&)> change;
  };
  const std::vector<Case> cases{
      {344, [](format::Signoff& s) { s.owner[0] ^= 1; }},
      {345, [](format::Signoff& s) { s.manifest[0] ^= 1; }},
      {346, [](format::Signoff& s) { s.product = id("thaw-node"); }},
      {347, [](format::Signoff& s) { s.sequence = 8; }},
      {347, [](format::Signoff& s) { s.epoch = 2; }},
      {348, [](format::Signoff& s) { s.role = format::Role::release; }},
      {349, [](format::Signoff& s) { s.person = id("noor"); }},
      {350, [](format::Signoff& s) { s.key[0] ^= 1; }},
  };
  for (const Case& one : cases) {
    CardKit kit;
    kit.on_signoff = [&](std::size_t i, format::Signoff& s) {
      if (i == 1) {
        one.change(s);
      }
    };
    const Outcome outcome = answer(kit);
    INFO(one.expected);
    CHECK(static_cast<int>(outcome.fault) == one.expected);
    CHECK(outcome.item == 1);
  }
}

TEST_CASE("a quality sign-off that does not follow the release sign-off is refused",
          "[check-351]") {
  CardKit other;
  other.on_signoff = [](std::size_t i, format::Signoff& s) { s.previous.value[0] ^= i == 1; };
  CHECK(reason(other) == 351);
  CardKit none;
  none.on_signoff = [](std::size_t, format::Signoff& s) { s.previous = {}; };
  CHECK(reason(none) == 351);
}

TEST_CASE("a key enrolled for another product does not count", "[check-352]") {
  CardKit kit;
  kit.list.keys.items[1].product.set(id("thaw-node"));
  CHECK(reason(kit) == 352);
}

TEST_CASE("engineering needs as many persons as its list asks for", "[check-353]") {
  CardKit good;
  use_engineering(good);
  CHECK(reason(good) == 0);
  CardKit kit;
  use_engineering(kit);
  kit.list.thresholds.add({format::Role::engineering, 2});
  CHECK(reason(kit) == 353);
}

TEST_CASE("sign-offs in another order than they are made are refused", "[check-354]") {
  CardKit kit;
  std::swap(kit.signoffs[0], kit.signoffs[1]);
  CHECK(reason(kit) == 354);
}

TEST_CASE("a revoked key's sign-off is refused", "[check-355]") {
  CardKit kit;
  kit.list.keys.items[1].state = format::KeyState::revoked;
  CHECK(reason(kit) == 355);
}

TEST_CASE("a manifest that the list does not allow is refused",
          "[check-361][check-362][check-363][check-364][check-365]") {
  CardKit owner;
  owner.on_manifest = [](format::Manifest& m) { m.owner[0] ^= 1; };
  CHECK(reason(owner) == 361);

  CardKit withdrawn;
  withdrawn.build();
  const format::Digest digest = digest_of(withdrawn.manifest_text);
  withdrawn.list.withdrawn.add(digest);
  CHECK(reason(withdrawn) == 362);

  CardKit product;
  product.list.products.items[0].id = id("thaw-node");
  CHECK(reason(product) == 363);

  CardKit epoch;
  epoch.list.products.items[0].epoch = 2;
  CHECK(reason(epoch) == 364);

  CardKit floor;
  floor.list.products.items[0].floor = 8;
  CHECK(reason(floor) == 365);
}

TEST_CASE("a title that does not fit the class is refused", "[check-369]") {
  CardKit kit;
  kit.manifest.title = text<24>("NOT SHIP 1.4.0");
  CHECK(reason(kit) == 369);
  CardKit engineering;
  use_engineering(engineering);
  engineering.manifest.title = text<24>("FROST NODE 1.4.0");
  CHECK(reason(engineering) == 369);
}

TEST_CASE("segments that touch, or do not add up, are refused", "[check-370]") {
  CardKit touching;
  touching.manifest.segments.items[1].address = 4000;
  CHECK(reason(touching) == 370);
  CardKit short_sum;
  short_sum.manifest.segments.items[1].length = 4999;
  CHECK(reason(short_sum) == 370);
}

TEST_CASE("a placement that does not hold the serial's text is refused", "[check-371]") {
  CardKit kit;
  kit.manifest.placements.items[0].length = 9;
  CHECK(reason(kit) == 371);
}

TEST_CASE("an allotment must be signed by an active allot key", "[check-381]") {
  for (const Who who : {Who::quality, Who::stranger}) {
    CardKit kit;
    kit.allotment_signer = who;
    CHECK(reason(kit) == 381);
  }
}

namespace {

// A text of the scheme with four characters of date code behind it, placed as before.
void add_date_code(CardKit& kit) {
  format::Part part;
  part.index = 3;
  part.kind = format::PartKind::date_code;
  part.width.set(4);
  kit.manifest.parts.add(part);
}

} // namespace

TEST_CASE("an allotment that does not fit package, card or limits is refused",
          "[check-382][check-384][check-385][check-386][check-390][check-391][check-392]"
          "[check-393][check-394][check-396][check-397]") {
  struct Case {
    int expected;
    std::function<void(CardKit&)> change;
  };
  const std::vector<Case> cases{
      {382, [](CardKit& k) { k.on_allotment = [](format::Allotment& a) { a.owner[0] ^= 1; }; }},
      {384, [](CardKit& k) { k.allotment.product = id("thaw-node"); }},
      {385, [](CardKit& k) { k.allotment.scheme.set(id("tn")); }},
      {385, [](CardKit& k) { k.allotment.scheme = {}, k.allotment.count = 0; }},
      {386, [](CardKit& k) { k.allotment.card[0] ^= 1; }},
      {390, [](CardKit& k) { k.allotment.first = 999; }},
      {390, [](CardKit& k) { k.allotment.first = 4981; }},
      {390, [](CardKit& k) { k.list.windows.items[0].use = format::WindowUse::engineering; }},
      {391, [](CardKit& k) { k.manifest.scheme.value.capacity = 1253; }},
      {397, [](CardKit& k) { add_date_code(k); }},
      {397,
       [](CardKit& k) {
         add_date_code(k);
         k.allotment.date_code.set({});
         k.allotment.date_code.value.set("26530");
       }},
      {392, [](CardKit& k) { k.signoffs[1].signoff.units_a_station.set(19); }},
      {392,
       [](CardKit& k) {
         k.signoffs[1].signoff.numbers.set({1234, 1252});
       }},
      {393, [](CardKit& k) { k.allotment.work_class = format::WorkClass::engineering; }},
      {394, [](CardKit& k) { k.allotment.enabled_slots = 0x40; }},
      {394, [](CardKit& k) { k.allotment.enabled_slots = 0; }},
      {396, [](CardKit& k) { k.allotment.units = 21; }},
  };
  for (const Case& one : cases) {
    CardKit kit;
    one.change(kit);
    INFO(one.expected);
    CHECK(reason(kit) == one.expected);
  }
}

TEST_CASE("engineering work takes no numbers of boards that ship", "[check-390]") {
  CardKit kit;
  use_engineering(kit);
  CHECK(reason(kit) == 0);
  kit.list.windows.items[0].use = format::WindowUse::shipment;
  CHECK(reason(kit) == 390);
}

TEST_CASE("engineering work is bounded to twenty units", "[check-393]") {
  CardKit kit;
  use_engineering(kit);
  kit.allotment.units = 21;
  kit.allotment.count = 21;
  CHECK(reason(kit) == 393);
}

TEST_CASE("numbers that outgrow their digits are refused before work begins", "[check-391]") {
  CardKit kit;
  kit.manifest.parts.items[1].width.set(3);
  kit.manifest.placements.items[0].length = 5;
  CHECK(reason(kit) == 391);
}

TEST_CASE("a card for another station is refused", "[check-387]") {
  CardKit kit;
  kit.allotment.station = id("bench-2");
  CHECK(reason(kit) == 387);
}

TEST_CASE("a card for an earlier enrolment is refused", "[check-388]") {
  CardKit kit;
  kit.allotment.enrolment = 1;
  CHECK(reason(kit) == 388);
}

namespace {

void verify_at(format::Manifest& manifest, std::uint16_t low_mv, std::uint16_t high_mv) {
  manifest.verify = format::Verify::low_high;
  manifest.verify_limits.set({low_mv, high_mv});
}

} // namespace

TEST_CASE("a card that is verified at two supplies of the station's is admitted") {
  CardKit kit;
  verify_at(kit.manifest, 1800, 5000);
  CHECK(reason(kit) == 0);
}

TEST_CASE("settings that this station can't make are refused",
          "[check-401][check-402][check-403][check-404][check-405]") {
  struct Case {
    int expected;
    std::function<void(format::Manifest&)> change;
  };
  const std::vector<Case> cases{
      {401, [](format::Manifest& m) { m.station_models.items[0] = id("four-slot"); }},
      {402, [](format::Manifest& m) { m.slots = 0x7F; }},
      {403, [](format::Manifest& m) { m.supply_mv = 5100; }},
      {403, [](format::Manifest& m) { m.supply_mv = 1700; }},
      {403, [](format::Manifest& m) { verify_at(m, 1700, 3600); }},
      {403, [](format::Manifest& m) { verify_at(m, 3000, 5100); }},
      {404, [](format::Manifest& m) { m.supply_mv = 3350; }},
      {404, [](format::Manifest& m) { verify_at(m, 2950, 3600); }},
      {404, [](format::Manifest& m) { verify_at(m, 3000, 3650); }},
      {405, [](format::Manifest& m) { m.supply_source = format::SupplySource::board; }},
  };
  for (const Case& one : cases) {
    CardKit kit;
    one.change(kit.manifest);
    INFO(one.expected);
    CHECK(reason(kit) == one.expected);
  }
}

TEST_CASE("a card without an allotment holds no work", "[check-509]") {
  CardKit kit;
  kit.on_index = [](format::CardIndex& i) {
    i.allotments = {};
    i.log = {};
  };
  CHECK(reason(kit) == 509);
}

TEST_CASE("an index whose packages and allotments do not belong together is refused",
          "[check-511]") {
  CardKit other;
  other.on_index = [](format::CardIndex& i) { i.packages.items[0].manifest[0] ^= 1; };
  CHECK(reason(other) == 511);
  CardKit both; // the index names a manifest that the package does not hold
  both.on_allotment = [](format::Allotment& a) { a.manifest[0] ^= 1; };
  both.on_index = other.on_index;
  CHECK(reason(both) == 511);
  CardKit path;
  path.on_index = [](format::CardIndex& i) { i.files.items[0].path = text<40>("A LONG NAME.TXT"); };
  CHECK(reason(path) == 511);
}

TEST_CASE("work on a card without a log is refused", "[check-508]") {
  CardKit kit;
  kit.on_index = [](format::CardIndex& i) { i.log = {}; };
  CHECK(reason(kit) == 508);
}
