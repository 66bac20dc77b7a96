// Card sets with numbers from a register: all in one step, in order, and never from one set back.
#include <filesystem>

#include "card/card_set.h"
#include "card/evidence.h"
#include "support/card_kit.h"
#include "support/catch.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

struct SetDesk {
  SetDesk() {
    kit.on_facts = [](format::Facts& facts) {
      format::StationFacts station;
      station.model = id("six-slot");
      station.reads = format::StationReads::signed_package;
      station.slots = 0x3F;
      station.supply_low_mv = 1800;
      station.supply_high_mv = 5000;
      station.supply_step_mv = 100;
      station.max_sectors = 3'842'048;
      station.volume_label = text<11>("FROSTNODE");
      facts.stations.add(station);
    };
    kit.manifest.station_models = {};
    kit.manifest.station_models.add(id("six-slot"));
    kit.signoffs.back().signoff.stations.set(2);
    (void)kit.build();
    Try<package::Package> opened = package::open(kit.package, "kit.crp");
    REQUIRE(opened.has_value());
    package = std::move(*opened);
    root = seal::OwnerRoot{{kit.root_text(), {}}, kit.root, kit.owner(), {}};
    trust.file.text = kit.list_text;
    crypto::Signature signature{};
    const Bytes made = sign(Who::root_a, "trust", kit.list_text);
    std::copy(made.begin(), made.end(), signature.begin());
    trust.file.signatures = {signature};
    REQUIRE(format::decode(kit.list_text, trust.list).ok());
    order.stations = {id("bench-1"), id("bench-2")};
    order.model = id("six-slot");
    order.work_order = text<24>("WO-0815");
    REQUIRE(registry::Register::create(io::real_system(), path, root.owner).has_value());
    for (const char* station : {"bench-1", "bench-2", "bench-3"}) {
      REQUIRE(open().enrol({id(station), false, std::nullopt, 1}).has_value());
    }
  }
  registry::Register open() const {
    Try<registry::Register> opened = registry::Register::open(io::real_system(), path, root.owner);
    REQUIRE(opened.has_value());
    return std::move(*opened);
  }
  card::SetInput input() const {
    return {{{*package::Judged::of(package, root, trust.list), units, enabled_slots, {}}},
            root,
            trust,
            key_of(Who::allot),
            order,
            now};
  }
  card::Newest newest() const {
    return {io::real_system(), card::newest_path(path), root, trust.list};
  }
  // Each card's allotment, instead of a card image.
  Try<std::vector<format::Allotment>> make() const {
    registry::Register numbers = open();
    std::vector<format::Allotment> made;
    card::Newest kept = newest();
    Try<void> done =
        card::make_set(numbers, input(), kept,
                       [&](std::size_t, const card::SetCard&, const card::Card& card) -> Try<void> {
                         made.push_back(card.allotments.front().allotment);
                         if (on_card) {
                           on_card();
                         }
                         return {};
                       });
    if (!done) {
      return Unexpected(std::move(done).error());
    }
    return made;
  }
  std::size_t allotments(registry::State state) const {
    std::size_t count = 0;
    REQUIRE(open()
                .each_allotment(
                    [&](const registry::AllotmentRow& row) { count += row.state == state ? 1 : 0; })
                .has_value());
    return count;
  }

  TempFolder folder;
  io::Path path = folder / "desk.register";
  io::Path backup = folder / "backup";
  CardKit kit;
  package::Package package;
  seal::OwnerRoot root;
  seal::OwnerTrust trust;
  card::SetOrder order;
  std::uint32_t units = 20;
  std::uint32_t enabled_slots = 0;
  Utc now{2026, 3, 2, 9, 0, 0};
  std::function<void()> on_card;
};

template <class T>
std::string code_of(const Try<T>& tried) {
  return tried ? "done" : tried.error().code;
}

} // namespace

TEST_CASE("a set deals its cards to stations in turn, spares last, each with numbers of its own") {
  SetDesk desk;
  desk.order.cards = 3;
  desk.order.spares = 1;
  const Try<std::vector<format::Allotment>> made = desk.make();
  REQUIRE(made.has_value());
  REQUIRE(made->size() == 4);
  for (std::size_t i = 0; i < 4; ++i) {
    CHECK((*made)[i].station.view() == (i % 2 == 0 ? "bench-1" : "bench-2"));
    CHECK((*made)[i].first == 1000 + 20 * i);
    CHECK((*made)[i].serial == 1 + i / 2);
    CHECK((*made)[i].register_entry.present);
  }
  CHECK(desk.allotments(registry::State::written) == 4);
}

TEST_CASE("stations that quality allows are counted over all sets") {
  SetDesk desk;
  desk.order.cards = 2;
  REQUIRE(desk.make().has_value());
  desk.order.cards = 1;
  desk.order.stations = {id("bench-3")};
  CHECK(code_of(desk.make()) == "limit-stations");
}

TEST_CASE("what no card can be spends no number") {
  SetDesk desk;
  desk.enabled_slots = 0x40; // a seventh slot, which shows when the first card is planned
  const std::uint64_t before = desk.open().head()->entries;
  CHECK(code_of(desk.make()) != "done");
  CHECK(desk.allotments(registry::State::spent) == 0);
  CHECK(desk.open().head()->entries == before);
  desk.enabled_slots = 0;
  CHECK(desk.make()->front().first == 1000);
}

TEST_CASE("what is kept as the newest is verified anew whenever it is another") {
  SetDesk desk;
  card::Newest newest = desk.newest();
  CHECK_FALSE(newest.read()->has_value()); // nothing yet
  REQUIRE(desk.make().has_value());
  const auto first = newest.read();
  REQUIRE(first->has_value());
  CHECK((**first).allotment.first == 1000);
  REQUIRE(desk.make().has_value()); // another desk's, as far as this one knows
  const auto second = newest.read();
  REQUIRE(second->has_value());
  CHECK((**second).allotment.first == 1020);
  CHECK((**second).text != (**first).text);
  const io::Path file = card::newest_path(desk.path);
  io::Bytes bytes = *io::read_file(io::real_system(), file, 4096);
  bytes[bytes.size() / 2] ^= 1;
  REQUIRE(io::write_file(io::real_system(), file, bytes, io::IfExists::replace));
  CHECK_FALSE(newest.read()->has_value());
  bytes[bytes.size() / 2] ^= 1;
  REQUIRE(io::write_file(io::real_system(), file, bytes, io::IfExists::replace));
  CHECK(newest.read()->has_value());
  std::filesystem::remove(file);
  CHECK_FALSE(newest.read()->has_value());
}

TEST_CASE("a card that can't be written has spent its numbers, and so have those after it") {
  SetDesk desk;
  desk.order.cards = 2;
  registry::Register numbers = desk.open();
  card::Newest kept = desk.newest();
  const Try<void> made =
      card::make_set(numbers, desk.input(), kept,
                     [](std::size_t, const card::SetCard&, const card::Card&) -> Try<void> {
                       return Unexpected(io::error_from(io::Errno{28}, "card.img", "write"));
                     });
  CHECK_FALSE(made.has_value());
  CHECK(desk.allotments(registry::State::sealed) == 1);
  CHECK(desk.allotments(registry::State::spent) == 1);
  desk.order.cards = 1;
  const Try<std::vector<format::Allotment>> next = desk.make();
  REQUIRE(next.has_value());
  CHECK(next->front().first == 1040);
}

TEST_CASE("a register that was set back while a set was made seals nothing more") {
  SetDesk desk;
  desk.order.cards = 2;
  // After both were reserved: the backup knows the reservations, and not what is sealed after it.
  desk.on_card = [&] {
    if (!std::filesystem::exists(desk.backup)) {
      std::filesystem::copy_file(desk.path, desk.backup);
      desk.order.cards = 1;
      CHECK(desk.make().has_value()); // another process seals a newer one
      desk.order.cards = 2;
      std::filesystem::copy_file(desk.backup, desk.path,
                                 std::filesystem::copy_options::overwrite_existing);
    }
  };
  CHECK(code_of(desk.make()) == "register-older");
  registry::Register numbers = desk.open();
  card::Newest kept = desk.newest();
  const auto met = card::meet_newest(numbers, desk.input(), kept);
  REQUIRE(met.has_value());
  REQUIRE(met->has_value());
  CHECK((*met)->standing == registry::Standing::missing);
  CHECK(code_of(desk.make()) == "window-used-up");
}
