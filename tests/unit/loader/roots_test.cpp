// A station's root moves on through the roots of a card: both thresholds at each step, one version
// at a time, never back; what it learned stays although the card is refused.
#include "format/root_chain.h"
#include "station_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

format::Root root_of(std::uint8_t threshold, const std::vector<std::pair<Who, const char*>>& keys) {
  format::Root root;
  root.threshold = threshold;
  for (const char* person : {"asta", "birk", "cleo"}) {
    for (const auto& [who, holder] : keys) {
      if (std::string(holder) == person) {
        root.keys.add({key_of(who).public_key(), id(person)});
        const bool first =
            root.persons.count == 0 || root.persons.items[root.persons.count - 1U].id != id(person);
        if (first) {
          root.persons.add({id(person), text<24>("Root holder")});
        }
      }
    }
  }
  return root;
}

format::Root only_asta() {
  return root_of(1, {{Who::root_a, "asta"}});
}
format::Root two_of_two() {
  return root_of(2, {{Who::root_a, "asta"}, {Who::root_b, "birk"}});
}
format::Root birk_and_cleo() {
  return root_of(2, {{Who::root_b, "birk"}, {Who::root_c, "cleo"}});
}

// The texts of the card follow the newest root.
void use_roots(CardKit& kit, std::vector<SignedRoot> next, std::vector<Who> list_signers) {
  kit.next_roots = std::move(next);
  const auto newest = static_cast<std::uint32_t>(kit.next_roots.size() + 1);
  std::sort(list_signers.begin(), list_signers.end(),
            [](Who a, Who b) { return key_of(a).public_key() < key_of(b).public_key(); });
  kit.list_signers = std::move(list_signers);
  kit.list.root_version = newest;
  kit.index.root_version = newest;
}

// Version 2 asks for two persons, version 3 is held by others altogether.
void use_three_roots(CardKit& kit) {
  use_roots(kit,
            {{two_of_two(), {Who::root_a, Who::root_b}},
             {birk_and_cleo(), {Who::root_a, Who::root_b, Who::root_c}}},
            {Who::root_b, Who::root_c});
}

int admission_reason(CardKit& kit) {
  Bench bench(kit);
  return number(bench.admit());
}

// What the station's memory holds: 0 for the first root.
std::size_t root_held(const Bench& bench, const CardKit& kit) {
  loader::StationMemory memory(bench.storage);
  if (!memory.load().ok()) {
    return 99;
  }
  for (std::size_t i = 0; i < kit.root_texts.size(); ++i) {
    if (memory.head().root_digest == digest_of(kit.root_texts[i])) {
      return i;
    }
  }
  return 98;
}

} // namespace

TEST_CASE("a station two roots behind catches up with one card, and keeps the newest") {
  CardKit kit;
  use_three_roots(kit);
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  CHECK(root_held(bench, kit) == 2);
  bench.restart();
  CHECK(bench.admit().ok());
  Bytes image;
  CHECK(stream(*bench.station, image).ok());
  CHECK(image == kit.image);
}

TEST_CASE("a root step needs the threshold of the old root and of the new one", "[check-309]") {
  const auto step = [](std::vector<Who> by) {
    CardKit kit;
    use_roots(kit, {{two_of_two(), {Who::root_a, Who::root_b}}, {birk_and_cleo(), std::move(by)}},
              {Who::root_b, Who::root_c});
    return admission_reason(kit);
  };
  CHECK(step({Who::root_a, Who::root_b, Who::root_c}) == 0);
  CHECK(step({Who::root_b, Who::root_c}) == 309); // one of the old root's two
  CHECK(step({Who::root_a, Who::root_b}) == 309); // one of the new root's two
  CHECK(step({}) == 309);
  CHECK(step({Who::root_c}) == 309);
}

TEST_CASE("two root keys of one person are one person at a root step", "[check-309]") {
  CardKit kit;
  use_roots(kit,
            {{root_of(2, {{Who::root_a, "asta"}, {Who::root_b, "birk"}, {Who::root_c, "birk"}}),
              {Who::root_a, Who::root_b, Who::root_c}}},
            {Who::root_a, Who::root_b});
  CHECK(admission_reason(kit) == 0);
  CardKit one;
  format::Root next = root_of(2, {{Who::root_a, "asta"}, {Who::root_b, "birk"}});
  next.keys.add({key_of(Who::root_c).public_key(), id("asta")});
  use_roots(one, {{next, {Who::root_a, Who::root_c}}}, {Who::root_a, Who::root_b});
  CHECK(admission_reason(one) == 309);
}

TEST_CASE("a root follows by exactly one version and names the text before", "[check-310]") {
  for (const int bend : {0, 1, 2, 3}) {
    CardKit kit;
    use_roots(kit, {{two_of_two(), {Who::root_a, Who::root_b}}}, {Who::root_a, Who::root_b});
    kit.on_root = [bend](std::uint32_t, format::Root& root) {
      root.version += bend == 1 ? 1 : 0; // a jump
      root.previous.value[3] ^= bend == 2 ? 1 : 0;
      if (bend == 3) {
        root.version = 999'999;
      }
    };
    if (bend == 1 || bend == 3) { // the list goes with what the root claims
      kit.list.root_version = bend == 1 ? 3 : 999'999;
      kit.index.root_version = kit.list.root_version;
    }
    INFO(bend);
    CHECK(admission_reason(kit) == (bend == 0 ? 0 : 310));
  }
}

TEST_CASE("a next root of another owner is refused", "[check-301]") {
  CardKit kit;
  use_roots(kit, {{two_of_two(), {Who::root_a, Who::root_b}}}, {Who::root_a, Who::root_b});
  kit.on_root = [](std::uint32_t, format::Root& root) { root.owner.value[0] ^= 1; };
  CHECK(admission_reason(kit) == 301);
}

TEST_CASE("every signature of a root is by a key of the old or the new root, in their order") {
  CardKit stranger;
  use_roots(stranger, {{two_of_two(), {Who::root_a, Who::root_b, Who::stranger}}},
            {Who::root_a, Who::root_b});
  CHECK(admission_reason(stranger) == 322);
  CardKit twice;
  use_roots(twice, {{two_of_two(), {Who::root_a, Who::root_b, Who::root_b}}},
            {Who::root_a, Who::root_b});
  CHECK(admission_reason(twice) == 323);
}

TEST_CASE("a card made under an older root is refused by a station that went on", "[check-315]") {
  CardKit old_kit;
  const Card old_card = old_kit.build();
  CardKit kit;
  use_roots(kit, {{root_of(1, {{Who::root_a, "asta"}, {Who::root_b, "birk"}}), {Who::root_a}}},
            {Who::root_a});
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  bench.insert(old_card);
  CHECK(number(bench.admit()) == 315);
  CHECK(root_held(bench, kit) == 1);
  CardKit three;
  use_three_roots(three);
  Bench ahead(three);
  REQUIRE(ahead.admit().ok());
  CardKit two;
  use_roots(two, {three.next_roots[0]}, {Who::root_a, Who::root_b});
  ahead.insert(two.build());
  CHECK(number(ahead.admit()) == 315);
  CHECK(root_held(ahead, three) == 2);
}

TEST_CASE("another root of the version that a station holds is refused", "[check-316]") {
  CardKit kit;
  use_roots(kit, {{two_of_two(), {Who::root_a, Who::root_b}}}, {Who::root_a, Who::root_b});
  Bench bench(kit);
  REQUIRE(bench.admit().ok());
  CardKit fork;
  format::Root other = two_of_two();
  other.persons.items[1].name = text<24>("Another name");
  use_roots(fork, {{other, {Who::root_a, Who::root_b}}}, {Who::root_a, Who::root_b});
  bench.insert(fork.build());
  CHECK(number(bench.admit()) == 316);
  CHECK(root_held(bench, kit) == 1);
}

TEST_CASE("a root that was learned stays although the rest of the card is refused") {
  CardKit kit;
  use_three_roots(kit);
  kit.on_card = [](std::map<std::string, Bytes>& files) { files["CARDSEAL/CARD.S01"][5] ^= 1; };
  Bench bench(kit);
  CHECK_FALSE(bench.admit().ok());
  CHECK(root_held(bench, kit) == 2);
  // Up to the first step that is not good.
  CardKit half;
  use_three_roots(half);
  half.next_roots[1].by = {Who::root_b, Who::root_c};
  Bench other(half);
  CHECK(number(other.admit()) == 309);
  CHECK(root_held(other, half) == 1);
}

TEST_CASE("a list that was signed under an earlier root counts no more") {
  CardKit first;
  Bench bench(first);
  REQUIRE(bench.admit().ok());
  CardKit kit;
  use_roots(kit, {{two_of_two(), {Who::root_a, Who::root_b}}}, {Who::root_a, Who::root_b});
  kit.with_list = false;
  bench.insert(kit.build());
  CHECK(number(bench.admit()) == 307);
  CHECK(root_held(bench, kit) == 1);
  CardKit whole;
  use_roots(whole, {{two_of_two(), {Who::root_a, Who::root_b}}}, {Who::root_a, Who::root_b});
  bench.insert(whole.build());
  CHECK(bench.admit().ok());
}

TEST_CASE("the roots of a card have one form, or the card is refused before any is believed") {
  struct Bend {
    int reason;
    void (*bend)(Bytes&);
  };
  const std::array<Bend, 6> bends{{
      {201, [](Bytes& file) { file[100] ^= 1; }},
      {204, [](Bytes& file) { file[512 + 511] = 1; }},
      {205, [](Bytes& file) { file.back() = 1; }},
      {206, [](Bytes& file) { file.resize(file.size() - 512); }},
      {202, [](Bytes& file) { file.erase(file.begin(), file.begin() + 1024); }},
      {203, [](Bytes& file) { file.resize(format::root_chain_limit + 1); }},
  }};
  for (const Bend& each : bends) {
    CardKit kit;
    use_roots(kit, {{two_of_two(), {Who::root_a, Who::root_b}}}, {Who::root_a, Who::root_b});
    kit.on_roots = each.bend;
    INFO(each.reason);
    CHECK(admission_reason(kit) == each.reason);
  }
}

TEST_CASE("a cut at every write while a root is kept leaves the old root or the new") {
  CardKit kit;
  use_three_roots(kit);
  const Card card = kit.build();
  Bench bench(card);
  bench.enrol(kit);
  const SlotStore before = bench.store;
  REQUIRE(bench.admit().ok());
  const std::size_t all = bench.store.writes - before.writes;
  REQUIRE(all > 100);
  std::array<std::size_t, 3> held{};
  for (std::size_t cut = 0; cut <= all; ++cut) {
    bench.store = before;
    bench.store.writes_left = before.writes + cut;
    bench.restart();
    const bool admitted = bench.admit().ok();
    bench.store.writes_left = static_cast<std::size_t>(-1);
    const std::size_t root = root_held(bench, kit);
    INFO(cut);
    REQUIRE(root < 3);
    CHECK((!admitted || root == 2));
    ++held[root];
    bench.restart();
    REQUIRE(bench.admit().ok());
    CHECK(root_held(bench, kit) == 2);
  }
  CHECK(held[0] > 30);
  CHECK(held[1] > 30);
  CHECK(held[2] > 30);
}

TEST_CASE("every flipped bit of the roots on a card is refused, or gives the same job") {
  CardKit kit;
  use_roots(kit, {{two_of_two(), {Who::root_a, Who::root_b}}}, {Who::root_a, Who::root_b});
  const Card card = kit.build();
  const std::uint32_t lba = card.lba_of("CARDSEAL/ROOTS.TAR");
  const std::size_t size = kit.files.at("CARDSEAL/ROOTS.TAR").size();
  Bench bench(card);
  bench.enrol(kit);
  const SlotStore before = bench.store;
  for (std::size_t at = 0; at < size; at += 7) {
    bench.store = before;
    const Bytes sector = card.sector(lba + static_cast<std::uint32_t>(at / 512));
    const std::uint8_t flipped = static_cast<std::uint8_t>(sector[at % 512] ^ (1U << (at % 8)));
    card.set(lba + static_cast<std::uint32_t>(at / 512), at % 512, std::array{flipped});
    INFO(at);
    CHECK_FALSE(bench.admit().ok());
    card.set(lba + static_cast<std::uint32_t>(at / 512), at % 512, std::array{sector[at % 512]});
  }
  bench.store = before;
  CHECK(bench.admit().ok());
}

TEST_CASE("an owner of one person may hand the root to another and back") {
  CardKit kit;
  use_roots(kit,
            {{root_of(1, {{Who::root_b, "birk"}}), {Who::root_a, Who::root_b}},
             {only_asta(), {Who::root_a, Who::root_b}}},
            {Who::root_a});
  CHECK(admission_reason(kit) == 0);
}

// Not in the sanitized build, whose frames are larger; of other machines tests/cross/run tells.
#if defined(__x86_64__) && !defined(__clang__)
// Measured where the loader calls back; what the call backs need themselves comes on top.
TEST_CASE("the loader's stack stays within six KiB, also while it walks roots") {
  CardKit kit;
  use_three_roots(kit);
  kit.withdrawals = {{{}, Who::quality}};
  kit.withdrawals[0].text.person = id("quin");
  kit.withdrawals[0].text.reason = text<96>("wrong bootloader");
  kit.withdrawals[0].text.time = {2026, 3, 4, 10, 0, 0};
  kit.withdrawals[0].text.manifest.set(format::Digest{});
  Bench bench(kit);
  std::uintptr_t deepest = ~std::uintptr_t{0};
  bench.on_read = [&](std::uint32_t, ByteSpan) {
    const auto here = reinterpret_cast<std::uintptr_t>(__builtin_frame_address(0));
    deepest = std::min(deepest, here);
    return true;
  };
  std::uintptr_t start = 0;
  const auto admit = [&] { // a frame of its own, without the kit
    start = reinterpret_cast<std::uintptr_t>(__builtin_frame_address(0));
    return bench.admit();
  };
  REQUIRE(admit().ok());
  CHECK(start - deepest < 6144);
}
#endif
