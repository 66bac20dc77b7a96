// What an archive keeps comes out as it went in, or is said to be spoilt.
#include <fstream>

#include "archive/archive.h"
#include "archive/item_text.h"
#include "io/faulting.h"
#include "support/catch.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::archive;

namespace {

template <class T>
T must(Try<T> tried) {
  if (!tried) {
    FAIL(describe(tried.error()));
  }
  return std::move(*tried);
}

io::Bytes bytes(std::string_view text) {
  return {text.begin(), text.end()};
}

std::string content(const io::Path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

struct Kept {
  Kept() : archive(must(Archive::create(io::real_system(), folder / "kept"))) {
    item = must(archive.add(Kind::package, "frost-node 2.4.1",
                            {{"a.crp", bytes("package"), {}}, {"owner.trust", bytes("list"), {}}}))
               .item;
  }
  // The file that keeps a part.
  io::Path object(const Part& part) const {
    const std::string name = crypto::hex(part.digest);
    return folder / "kept/objects" / name.substr(0, 2) / name;
  }
  test::TempFolder folder;
  Archive archive;
  Item item;
};

} // namespace

TEST_CASE("items come back as they were kept, by their digest or its first digits") {
  Kept kept;
  const std::string name = crypto::hex(crypto::sha256(bytes("package")));
  CHECK(crypto::hex(kept.item.id()) == name);
  for (const std::string& digits : {name, name.substr(0, 8), "sha256:" + name}) {
    CHECK(must(kept.archive.find(digits)).title == "frost-node 2.4.1");
  }
  CHECK(kept.archive.find(name.substr(0, 7)).error().code == "archive-missing");
  CHECK(kept.archive.find("../../x").error().code == "archive-missing");
  REQUIRE(kept.archive.take_out(kept.item, kept.folder / "out"));
  CHECK(content(kept.folder / "out/a.crp") == "package");
  CHECK(content(kept.folder / "out/owner.trust") == "list");
  CHECK_FALSE(kept.archive.take_out(kept.item, kept.folder / "out"));

  const Archive::Added again =
      must(kept.archive.add(Kind::package, "renamed", {{"b.crp", bytes("package"), {}}}));
  CHECK_FALSE(again.fresh);
  CHECK(again.item.title == "frost-node 2.4.1");
  CHECK(must(kept.archive.items()).size() == 1);
}

TEST_CASE("an image keeps its holes and its bytes") {
  Kept kept;
  const io::Path image = kept.folder / "card.img";
  {
    io::NewFile file = must(io::NewFile::create(io::real_system(), image, io::IfExists::refuse));
    REQUIRE(file.resize(10'000'001));
    REQUIRE(file.write_at(4090, bytes("over a block's end")));
    REQUIRE(file.write_at(5'000'000, bytes("middle")));
    REQUIRE(file.write_at(9'999'995, bytes("theend")));
    REQUIRE(file.commit());
  }
  const Item item = must(kept.archive.add(Kind::card, "card 1", {{"card.img", {}, image}})).item;
  CHECK(item.parts[0].size == 10'000'001);
  CHECK(std::filesystem::file_size(kept.object(item.parts[0])) < 20'000);
  REQUIRE(kept.archive.take_out(item, kept.folder / "out"));
  CHECK(content(kept.folder / "out/card.img") == content(image));
  CHECK(io::real_system().stat(kept.folder / "out/card.img")->allocated < 100'000);
}

TEST_CASE("scrub finds a byte that changed, a part that is gone and an item of another form") {
  Kept kept;
  std::uint64_t objects = 0;
  CHECK(must(kept.archive.scrub(objects)).empty());
  CHECK(objects == 2);
  const io::Path object = kept.object(kept.item.parts[1]);
  std::ofstream(object, std::ios::binary) << "lisT";
  CHECK(must(kept.archive.scrub(objects)).size() == 1);
  CHECK(kept.archive.take_out(kept.item, kept.folder / "out").error().code == "archive-object");
  CHECK_FALSE(std::filesystem::exists(kept.folder / "out"));
  std::filesystem::remove(object);
  CHECK(must(kept.archive.scrub(objects)).size() == 1);
  // Adding another item with that part makes it good.
  (void)must(kept.archive.add(Kind::trust, "trust list 1", {{"owner.trust", bytes("list"), {}}}));
  CHECK(must(kept.archive.scrub(objects)).empty());

  const io::Path item = kept.folder / "kept/items" / (crypto::hex(kept.item.id()) + ".txt");
  const std::string text = content(item);
  std::ofstream(item, std::ios::binary) << text << "part\n";
  CHECK(must(kept.archive.scrub(objects)).size() == 1);
  std::filesystem::rename(item, kept.folder / "kept/items/other.txt");
  std::ofstream(kept.folder / "kept/items/other.txt", std::ios::binary) << text;
  CHECK(must(kept.archive.scrub(objects)).size() == 1); // not named by its first part
}

TEST_CASE("a copy checks every part on the way") {
  Kept kept;
  Archive other = must(Archive::create(io::real_system(), kept.folder / "other"));
  CHECK(must(kept.archive.copy_to(other, kept.item)));
  CHECK_FALSE(must(kept.archive.copy_to(other, kept.item)));
  REQUIRE(other.take_out(kept.item, kept.folder / "out"));
  CHECK(content(kept.folder / "out/a.crp") == "package");

  Archive third = must(Archive::create(io::real_system(), kept.folder / "third"));
  std::ofstream(kept.object(kept.item.parts[1]), std::ios::binary) << "other";
  CHECK(kept.archive.copy_to(third, kept.item).error().code == "archive-object");
  CHECK(must(third.items()).empty());
}

TEST_CASE("an item's text has one form, and names no other folder") {
  Kept kept;
  const std::string sound = spell(kept.item);
  CHECK(must(parse(sound, "x")).parts.size() == 2);
  const auto bent = [&](const std::string& from, const std::string& to) {
    std::string text = sound;
    text.replace(text.find(from), from.size(), to);
    return text;
  };
  for (const std::string& text :
       {std::string(), sound.substr(0, sound.size() - 1), sound + "\n", bent("item 1", "item 2"),
        bent("kind package", "kind parcel"), bent("whole a.crp", "whole ../a.crp"),
        bent("whole a.crp", "whole .a"), bent("whole a.crp", "whole a/b"), bent(" 7 ", " 07 "),
        bent("whole", "some"), bent("part sha256", "part md5"), bent("title ", "titel ")}) {
    INFO(text);
    CHECK_FALSE(parse(text, "x"));
  }
}

TEST_CASE("whatever write fails, an item is there whole or not at all") {
  const std::vector<Source> sources{{"a.crp", bytes("package"), {}}, {"t", bytes("list"), {}}};
  for (std::uint64_t nth = 0;; ++nth) {
    test::TempFolder folder;
    REQUIRE(Archive::create(io::real_system(), folder / "kept"));
    io::FaultingSystem system(io::real_system());
    system.fail_at(nth, 28); // no space left
    system.stay_down(true);
    Archive failing = must(Archive::open(system, folder / "kept"));
    const bool added = failing.add(Kind::package, "p", sources).has_value();
    Archive archive = must(Archive::open(io::real_system(), folder / "kept"));
    const std::size_t items = must(archive.items()).size();
    std::uint64_t objects = 0;
    CHECK(must(archive.scrub(objects)).empty());
    if (added) {
      CHECK(items == 1);
      CHECK(nth > 10); // so many steps were tried
      return;
    }
    CHECK(must(archive.add(Kind::package, "p", sources)).item.parts.size() == 2);
    CHECK(must(archive.scrub(objects)).empty());
  }
}

TEST_CASE("an image without holes that lies about itself is refused") {
  test::TempFolder folder;
  const auto restored = [&](io::Bytes sparse) {
    io::NewFile out =
        must(io::NewFile::create(io::real_system(), folder / "x", io::IfExists::refuse));
    return with_holes(sparse, out, "x").has_value();
  };
  const std::string head = "cardseal-sparse 1\n";
  const auto number = [](std::uint64_t value) {
    std::string out;
    for (unsigned i = 0; i < 8; ++i) {
      out += static_cast<char>(value >> (8 * i));
    }
    return out;
  };
  CHECK(restored(bytes(head + number(10))));
  CHECK(restored(bytes(head + number(10) + number(7) + number(3) + "abc")));
  for (const std::string& text : {std::string("cardseal"), head, head + number(10) + "x",
                                  head + number(10) + number(8) + number(3) + "abc",
                                  head + number(10) + number(7) + number(4) + "abc",
                                  head + number(10) + number(~0ULL) + number(3) + "abc",
                                  head + number(10) + number(11) + number(0)}) {
    CHECK_FALSE(restored(bytes(text)));
  }
}
