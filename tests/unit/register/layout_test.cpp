// A register of an older layout, as the program of that day made it, is taken over whole.
#include <filesystem>
#include <fstream>

#include <sqlite3.h>

#include "register/schema.h"
#include "unit/register/desk.h"

using namespace cardseal;
using namespace cardseal::registry;

namespace {

const io::Path sources = io::Path(CARDSEAL_SOURCE_DIR) / "tests/unit/register";

struct Older {
  Older() {
    test::install_faulting_vfs();
    test::really_sync = false;
    std::ifstream in(sources / "layout-4.sql");
    const std::string sql{std::istreambuf_iterator<char>(in), {}};
    REQUIRE(sql.size() > 50'000);
    Database database = must(Database::open(path, Access::create, 1000));
    must(database.execute(sql.c_str()));
    std::filesystem::copy_file(sources / "layout-4.head", head_path(path));
  }
  static std::uint64_t layout(const io::Path& path) {
    Database database = must(Database::open(path, Access::existing, 1000));
    return must(database.number("PRAGMA user_version"));
  }
  test::TempFolder folder;
  io::Path path = folder / "north.register";
};

} // namespace

TEST_CASE("a register of layout 4 is taken over with its history, and goes on") {
  const Older old;
  CHECK(Older::layout(old.path) == 4);
  Register numbers = must(Register::open(io::real_system(), old.path, std::nullopt));
  CHECK(Older::layout(old.path) == schema_version);
  CHECK(must(numbers.check()).empty());
  const Head head = must(numbers.head());
  CHECK(head.entries == 103); // as layout-4.head has it
  std::uint64_t units = 0;
  format::CardId card{};
  must(numbers.each_allotment([&](const AllotmentRow& row) {
    units += row.units;
    card = row.fate == Fate::lost ? row.card : card;
  }));
  CHECK(units == 145); // 8, 80, 45 and 12 of the season's four orders in the north
  const std::uint64_t lost = must(numbers.allotments_on(card)).front().id;
  must(numbers.note_lost(card, {Fate::lost, "Rolf Aske", "still gone"}, {{lost, {1}, {}, ""}}));
  CHECK(must(numbers.head()).entries == 104);
  CHECK(must(numbers.check()).empty());
}

// By its rules a register of layout 5 is one of layout 4 with what that layout added.
TEST_CASE("a register of the layout before is taken over, and orders in it can be merged") {
  const Older old;
  must(must(Database::open(old.path, Access::existing, 1000)).execute(layout_5_sql));
  must(must(Database::open(old.path, Access::existing, 1000)).execute("PRAGMA user_version=5"));
  Register numbers = must(Register::open(io::real_system(), old.path, std::nullopt));
  CHECK(Older::layout(old.path) == schema_version);
  CHECK(must(numbers.check()).empty());
  std::string closed;
  must(numbers.each_order([&](const OrderRow& row) { closed = row.work_order; }));
  CHECK(code_of(numbers.merge({closed, "WO-0", "planner", "why", ""})) == "lot-closed");
}

TEST_CASE("a change that fails leaves a register of the old layout or of the new one") {
  const Older old;
  const io::Path copy = old.folder / "copy";
  std::size_t left_old = 0;
  for (std::uint64_t nth = 0;; ++nth) {
    std::filesystem::copy_file(old.path, copy, std::filesystem::copy_options::overwrite_existing);
    copy_register(old.path, copy);
    std::uint64_t changes = 0;
    test::on_change = [&](test::Change) {
      return changes++ >= nth ? test::Trap{SQLITE_FULL, 0} : test::Trap{};
    };
    const bool opened = Register::open(io::real_system(), copy, std::nullopt).has_value();
    test::on_change = nullptr;
    if (opened) {
      CHECK(nth > 3);
      break;
    }
    left_old += Older::layout(copy) == 4 ? 1 : 0;
    INFO("change " << nth);
    CHECK(must(must(Register::open(io::real_system(), copy, std::nullopt)).check()).empty());
  }
  CHECK(left_old > 3);
}
