// The program itself, run as a person would.
#ifdef CARDSEAL_STATION_CHECK
#include <fstream>

#include "station_kit.h"
#include "support/catch.h"
#include "support/outside.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

Ran check_run(const std::string& arguments) {
  return run(std::string(CARDSEAL_STATION_CHECK) + " " + arguments);
}

void save(const std::filesystem::path& path, const Bytes& bytes) {
  std::ofstream out(path, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes.data()),
            static_cast<std::streamsize>(bytes.size()));
}

struct Desk {
  explicit Desk(CardKit& kit) {
    const Card card = kit.build();
    save(folder / "owner.root", kit.root_text());
    save(folder / "owner.root.s01", sign(Who::root_a, "root", kit.root_text()));
    Bytes image(std::size_t{card.plan.shape.image_sectors} * 512);
    REQUIRE(card.sectors->read(0, image).has_value());
    save(folder / "card.img", image);
  }
  std::string files() const {
    return " --root " + (folder / "owner.root").string() + " --state " +
           (folder / "station.state").string();
  }
  Ran enrol(const std::string& more = "") const {
    return check_run(
        "--enrol bench-1 --model six-slot --slots 6 --supply 1800:5000:100 --enrolment 2" +
        files() + more);
  }
  Ran check(const std::string& more = "") const {
    return check_run((folder / "card.img").string() + files() + more);
  }
  TempFolder folder;
};

} // namespace

TEST_CASE("station-check enrols a station once and admits its card") {
  CardKit kit;
  const Desk desk(kit);
  REQUIRE(desk.enrol().exit_code == 0);
  const Ran again = desk.enrol();
  CHECK(again.exit_code == 73);
  CHECK_THAT(again.output, ContainsSubstring("never overwritten"));

  const Ran admitted = desk.check();
  INFO(admitted.output);
  CHECK(admitted.exit_code == 0);
  for (const char* expected :
       {"admitted ", "bench-1, model six-slot, enrolment 2", "WO-0815", "3300 mV from the station",
        "111111 (slot 1 leftmost)", "FN001234 (ordinal 1234)", "FN001253 (ordinal 1253)",
        "20 left of 20", "9000 bytes, every block proved"}) {
    CHECK_THAT(admitted.output, ContainsSubstring(expected));
  }
  const Ran json = desk.check(" --json");
  CHECK(json.exit_code == 0);
  CHECK_THAT(json.output, ContainsSubstring("\"schema\": 1"));
  CHECK_THAT(json.output, ContainsSubstring("\"verdict\": \"admitted\""));
}

TEST_CASE("station-check refuses another station's card with number, display text and sentence") {
  CardKit kit;
  kit.allotment.station = id("bench-2");
  const Desk desk(kit);
  REQUIRE(desk.enrol().exit_code == 0);
  const Ran refused = desk.check();
  CHECK(refused.exit_code == 1);
  for (const char* expected : {"refused ", "387", "OTHER STATION",
                               "the card was made for another station", "use the station"}) {
    CHECK_THAT(refused.output, ContainsSubstring(expected));
  }
  CHECK_THAT(desk.check(" --json").output, ContainsSubstring("\"number\": 387"));
}

TEST_CASE("station-check tells what it could not do from what it refused") {
  CardKit kit;
  const Desk desk(kit);
  const Ran missing = desk.check();
  CHECK(missing.exit_code == 66);
  CHECK_THAT(missing.output, ContainsSubstring("--enrol"));
  CHECK(check_run("--enrol Bench --model six-slot --slots 6 --supply 1800:5000:100 --enrolment 2" +
                  desk.files())
            .exit_code == 64);
  CHECK(
      check_run("--enrol bench-1 --model six-slot --slots 33 --supply 1800:5000:100 --enrolment 2" +
                desk.files())
          .exit_code == 64);
  CHECK(
      check_run("--enrol bench-1 --model six-slot --slots 6 --supply 5000:1800:100 --enrolment 2" +
                desk.files())
          .exit_code == 64);
  CHECK(check_run(desk.files()).exit_code == 64);
  CHECK_FALSE(std::filesystem::exists(desk.folder / "station.state"));
  CHECK(check_run("--help").exit_code == 0);

  save(desk.folder / "station.state", Bytes(100));
  CHECK(desk.check().exit_code == 65);
  save(desk.folder / "station.state", Bytes(40'960, 0xFF));
  const Ran blank = desk.check();
  CHECK(blank.exit_code == 1);
  CHECK_THAT(blank.output, ContainsSubstring("601"));
}

TEST_CASE("station-check refuses a state of another owner", "[check-301]") {
  CardKit kit;
  const Desk desk(kit);
  REQUIRE(desk.enrol().exit_code == 0);
  CardKit other;
  other.root.persons.items[0].name = text<24>("Someone Else");
  save(desk.folder / "owner.root", other.root_text());
  save(desk.folder / "owner.root.s01", sign(Who::root_a, "root", other.root_text()));
  const Ran refused = desk.check();
  CHECK(refused.exit_code == 1);
  CHECK_THAT(refused.output, ContainsSubstring("301"));
}

#endif
