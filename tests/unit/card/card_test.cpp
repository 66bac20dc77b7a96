// Cards made at the desk: refused for every reason a station would have, written whole or not at
// all, and found out when anything on them changes.
#include <algorithm>
#include <cerrno>
#include <filesystem>

#include <fmt/format.h>

#include "card/make.h"
#include "card/plain_file.h"
#include "card/run_log.h"
#include "card/verify.h"
#include "io/faulting.h"
#include "support/card_kit.h"
#include "support/catch.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

format::StationFacts station_facts(const char* model, format::StationReads reads) {
  format::StationFacts facts;
  facts.model = id(model);
  facts.reads = reads;
  facts.slots = 0x3F;
  facts.supply_low_mv = 1800;
  facts.supply_high_mv = 5000;
  facts.supply_step_mv = 100;
  facts.max_sectors = 3'842'048;
  facts.volume_label = text<11>("FROSTNODE");
  return facts;
}

void add_stations(format::Facts& facts) {
  facts.stations.add(station_facts("plain-six", format::StationReads::plain_file));
  facts.stations.add(station_facts("six-slot", format::StationReads::signed_package));
  format::PlainFileFacts plain;
  plain.model = id("plain-six");
  plain.path = text<40>("BENCH/NODE.HEX");
  plain.shown_checksum = text<32>("byte-sum-16");
  plain.shown_value = 0x1A2B;
  facts.plain_files.add(plain);
}

// A desk with everything that `make_card` needs.
struct Desk {
  explicit Desk(bool plain_signed = true, format::Lock lock = format::Lock::none,
                void (*change)(format::Manifest&) = nullptr) {
    kit.manifest.lock = lock;
    kit.on_facts = add_stations;
    if (change != nullptr) {
      change(kit.manifest);
    }
    kit.manifest.plain_file = format::YesNo::yes;
    kit.manifest.station_models = {};
    kit.manifest.station_models.add(id("plain-six"));
    kit.manifest.station_models.add(id("six-slot"));
    for (SignedSignoff& each : kit.signoffs) {
      each.signoff.plain_file = plain_signed ? format::YesNo::yes : format::YesNo::no;
    }
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
    order.card_id = {1, 2, 3, 4, 5, 6, 7, 8};
    order.station = id("bench-1");
    order.model = id("six-slot");
    order.first = 1234;
    order.units = 20;
    order.work_order = text<24>("WO-0815");
  }
  Try<card::Card> make(Who key = Who::allot) const {
    Try<package::Judged> judged = package::Judged::of(package, root, trust.list);
    return judged ? card::make_card({{{*judged, order}}, root, trust, key_of(key)})
                  : Unexpected(std::move(judged).error());
  }

  CardKit kit;
  package::Package package;
  seal::OwnerRoot root;
  seal::OwnerTrust trust;
  card::CardOrder order;
};

card::CardReport verified(const std::filesystem::path& path, const seal::OwnerRoot& root) {
  Try<io::ReadFile> file = io::ReadFile::open(io::real_system(), path);
  REQUIRE(file.has_value());
  fat32::FileSource source(*file);
  Try<card::CardReport> report = card::verify_card(source, root);
  REQUIRE(report.has_value());
  return std::move(*report);
}

std::string code_of(const Try<card::Card>& card) {
  return card ? std::string("made") : card.error().code;
}

} // namespace

TEST_CASE("a signed card is sound and names its station, units and package") {
  const Desk desk;
  const TempFolder folder;
  Try<card::Card> made = desk.make();
  REQUIRE(made.has_value());
  REQUIRE(card::write_card(io::real_system(), *made, folder / "card.img", io::IfExists::refuse));
  const card::CardReport report = verified(folder / "card.img", desk.root);
  CHECK(report.sound());
  REQUIRE(report.allotments.size() == 1);
  CHECK(report.allotments[0].station.view() == "bench-1");
  CHECK(report.allotments[0].first == 1234);
  REQUIRE(report.packages.size() == 1);
  CHECK(report.packages[0].package.manifest_digest == desk.package.manifest_digest);
}

TEST_CASE("a plain card carries the image, and a changed byte of it is found") {
  Desk desk;
  desk.order.model = id("plain-six");
  const TempFolder folder;
  Try<card::Card> made = desk.make();
  REQUIRE(made.has_value());
  CHECK(made->reads == format::StationReads::plain_file);
  CHECK_THAT(made->setup_sheet, ContainsSubstring("1A2B "));
  CHECK_THAT(made->setup_sheet, ContainsSubstring("CHECKS NOTHING"));
  CHECK_THAT(made->setup_sheet, ContainsSubstring("serials of all scrapped boards: ___"));
  CHECK_THAT(made->setup_sheet, !ContainsSubstring("unused"));
  CHECK(made->files.front().path == "BENCH/NODE.HEX");
  REQUIRE(card::write_card(io::real_system(), *made, folder / "a.img", io::IfExists::refuse));
  CHECK(verified(folder / "a.img", desk.root).sound());

  made->files.front().content[11] ^= 1;
  REQUIRE(card::write_card(io::real_system(), *made, folder / "b.img", io::IfExists::refuse));
  const card::CardReport report = verified(folder / "b.img", desk.root);
  CHECK_FALSE(report.sound());
  REQUIRE_FALSE(report.problems.empty());
  CHECK(report.problems[0].code == "reason-507");
  CHECK(report.problems[0].place.item == "BENCH/NODE.HEX");
}

TEST_CASE("both supplies to verify at stand on the set-up sheet, to read or to key in") {
  Desk desk(true, format::Lock::none, [](format::Manifest& manifest) {
    manifest.verify = format::Verify::low_high;
    manifest.verify_limits.set({3000, 3600});
  });
  Try<card::Card> made = desk.make();
  REQUIRE(made.has_value());
  CHECK_THAT(made->setup_sheet,
             ContainsSubstring("  verify                on, at 3.000 V and at 3.600 V\r\n"));
  desk.order.model = id("plain-six");
  Try<card::Card> plain = desk.make();
  REQUIRE(plain.has_value());
  CHECK_THAT(plain->setup_sheet,
             ContainsSubstring("  verify                on, at 3.000 V and at 3.600 V            "
                               "[  ] [  ]\r\n"));
}

TEST_CASE("a changed bit in any file of a signed card is found, and so is a file too many") {
  const Desk desk;
  const TempFolder folder;
  Try<card::Card> made = desk.make();
  REQUIRE(made.has_value());
  for (std::size_t i = 0; i < made->files.size(); ++i) {
    INFO(made->files[i].path);
    card::CardFile& file = made->files[i];
    const card::CardFile sound = file;
    file = {sound.path, {sound.bytes().begin(), sound.bytes().end()}, nullptr};
    file.content[file.content.size() / 2] ^= 4;
    REQUIRE(card::write_card(io::real_system(), *made, folder / "c.img", io::IfExists::replace));
    CHECK_FALSE(verified(folder / "c.img", desk.root).sound());
    file = sound;
  }
  std::vector<card::CardFile> more = made->files;
  more.push_back({"EXTRA.TXT", {'x'}, nullptr});
  Try<fat32::VolumePlan> plan = fat32::plan_volume(made->plan.options, card::tree_of(more));
  REQUIRE(plan.has_value());
  made->files = more;
  made->plan = *plan;
  REQUIRE(card::write_card(io::real_system(), *made, folder / "c.img", io::IfExists::replace));
  const card::CardReport report = verified(folder / "c.img", desk.root);
  CHECK_FALSE(report.sound());
  CHECK(report.unplanned == std::vector<std::string>{"EXTRA.TXT"});
}

TEST_CASE("a card with a withdrawal that its full list has no room for is told") {
  for (const std::size_t listed : {31U, 32U}) {
    CardKit kit;
    kit.on_list = [&](format::TrustList& list) {
      for (std::uint8_t i = 0; i < listed; ++i) {
        list.withdrawn.add(format::Digest{i});
      }
    };
    format::Withdrawal one_more;
    one_more.manifest.set(format::Digest{200});
    one_more.person = id("quin");
    one_more.reason = text<96>("wrong bootloader");
    one_more.time = {2026, 3, 4, 10, 0, 0};
    kit.withdrawals = {{one_more, Who::quality}};
    const test::Card built = kit.build();
    const seal::OwnerRoot root{{kit.root_text(), {}}, kit.root, kit.owner(), {}};
    const Try<card::CardReport> report = card::verify_card(*built.sectors, root);
    REQUIRE(report.has_value());
    const auto full = std::count_if(report->problems.begin(), report->problems.end(),
                                    [](const Error& each) { return each.code == "trust-full"; });
    INFO(listed);
    CHECK(full == (listed == 32 ? 1 : 0));
  }
}

TEST_CASE("what a station would refuse is not made") {
  Desk desk;
  CHECK(code_of(desk.make(Who::release)) == "key-not-enrolled");
  desk.order.model = id("other");
  CHECK(code_of(desk.make()) == "station-model");
  desk.order.model = id("six-slot");
  desk.order.first = 4990; // the desk's window ends at 4999
  CHECK(code_of(desk.make()) == "reason-390");
  desk.order.first = 1234;
  desk.order.enabled_slots = 0x40;
  CHECK(code_of(desk.make()) == "reason-394");
  desk.order.enabled_slots = 0;
  desk.order.work_class = format::WorkClass::engineering;
  CHECK(code_of(desk.make()) == "reason-393");
}

TEST_CASE("engineering and a pilot lot get no card that locks its boards for good") {
  Desk desk(true, format::Lock::permanent);
  CHECK(code_of(desk.make()) == "made");
  for (const format::WorkClass looked_into :
       {format::WorkClass::engineering, format::WorkClass::pilot}) {
    desk.order.work_class = looked_into;
    CHECK(code_of(desk.make()) == "lock-for-good");
  }
}

TEST_CASE("a plain file in the folder of the card's own files is refused, whoever signed it") {
  Desk desk;
  desk.order.model = id("plain-six");
  desk.kit.on_facts = [](format::Facts& facts) {
    add_stations(facts);
    facts.plain_files.items[0].path = text<40>("CARDSEAL/NOLOG.TXT");
  };
  (void)desk.kit.build();
  desk.package = std::move(*package::open(desk.kit.package, "kit.crp"));
  CHECK(code_of(desk.make()) == "plain-folder");
}

TEST_CASE("boards that keep their numbers need a station that writes a log") {
  Desk desk;
  desk.kit.on_facts = [](format::Facts& facts) {
    add_stations(facts);
    facts.stations.items[1].reads = format::StationReads::signed_no_log;
  };
  (void)desk.kit.build();
  desk.package = std::move(*package::open(desk.kit.package, "kit.crp"));
  CHECK(code_of(desk.make()) == "made");
  desk.order.work_class = format::WorkClass::rework;
  desk.order.numbers = format::Numbers::kept;
  desk.order.spans.add({desk.order.first, desk.order.first + desk.order.units - 1});
  CHECK(code_of(desk.make()) == "no-log-numbers");
}

TEST_CASE("a plain card needs quality's signature for it") {
  Desk desk(false);
  desk.order.model = id("plain-six");
  CHECK(code_of(desk.make()) == "plain-file-not-signed");
}

TEST_CASE("whichever write fails, nothing half written stands under the card's name") {
  const Desk desk;
  Try<card::Card> made = desk.make();
  REQUIRE(made.has_value());
  std::uint64_t calls = 0;
  {
    const TempFolder folder;
    io::FaultingSystem system(io::real_system());
    REQUIRE(card::write_card(system, *made, folder / "card.img", io::IfExists::refuse));
    calls = system.changing_calls();
  }
  REQUIRE(calls > 10);
  for (std::uint64_t nth = 0; nth < calls; ++nth) {
    const TempFolder folder;
    io::FaultingSystem system(io::real_system());
    system.fail_at(nth, ENOSPC);
    CHECK_FALSE(card::write_card(system, *made, folder / "card.img", io::IfExists::refuse));
    CHECK(std::filesystem::is_empty(folder.path()));
  }
}

TEST_CASE("the empty log has a header and room for every try") {
  const io::Bytes log = card::empty_log({1, 2, 3, 4, 5, 6, 7, 8}, card::log_sectors(20));
  CHECK(log.size() == 512U * (1 + 2 * 3 * 20));
  CHECK(text_of(ByteView(log)).starts_with("CARDSEAL-LOG,1,"));
}

TEST_CASE(
    "files for more units than the card has room or digits for are refused before they are made") {
  const Desk desk;
  format::PlainFileFacts facts;
  facts.path = text<40>("U###.HEX");
  format::Allotment allotment;
  allotment.first = 90;
  allotment.units = 10;
  const auto code = [&](std::uint64_t room) {
    const auto made = card::plain_files(desk.package, facts, allotment, room);
    return made ? fmt::format("{} files, the last {}", made->size(), made->back().path)
                : made.error().code;
  };
  CHECK(code(1'000'000) == "10 files, the last U099.HEX");
  CHECK(code(100) == "unit-files-full");
  allotment.first = 991; // to 1000
  CHECK(code(1'000'000) == "unit-file-digits");
}
