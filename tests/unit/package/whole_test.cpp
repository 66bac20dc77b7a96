// A package held against itself, without the owner's keys.
#include "package/whole.h"
#include "support/card_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// Empty: the package opens and is whole. "form": it does not open. Else the part that is wrong.
std::string fault_of(Bytes bytes) {
  const Try<package::Package> package = package::open(std::move(bytes), "p.crp");
  if (!package) {
    return "form";
  }
  const Try<void> whole = package::check_whole(*package);
  if (whole) {
    return "";
  }
  CHECK(whole.error().kind == ErrorKind::bad_data);
  CHECK(whole.error().place.file == "p.crp");
  return whole.error().place.item;
}

} // namespace

TEST_CASE("a package is whole as it was made, and with a byte changed in any part it is not") {
  CardKit kit;
  kit.build();
  CHECK(fault_of(kit.package) == "");
  const Try<package::Package> good = package::open(kit.package, "p.crp");
  REQUIRE(good);
  const format::PackageLayout& layout = good->layout;
  const auto changed = [&](const format::Extent& part, std::uint32_t from_end) {
    Bytes bytes = kit.package;
    bytes[part.offset + part.size - from_end] ^= 1U;
    return fault_of(bytes);
  };
  REQUIRE(layout.signoffs.count == 2);
  CHECK(changed(layout.image, 1) == "image");
  CHECK(changed(layout.chain, 1) == "chain");
  CHECK(changed(layout.facts, 3) == "facts"); // the last letter of the tool
  // A letter of the title: the manifest agrees with all content, but is not what was signed.
  const std::string_view text = text_of(good->part(layout.manifest));
  const auto title = static_cast<std::uint32_t>(text.find("title \"") + 7);
  CHECK(changed(layout.manifest, layout.manifest.size - title) == "signoff/01");
  CHECK(changed(layout.signoffs.items[0].text, 3) == "signoff/01");
  CHECK(changed(layout.signoffs.items[1].signature, 64) == "signoff/02");
}

TEST_CASE("a changed document is named") {
  CardKit kit;
  kit.build();
  const Try<package::Package> good = package::open(kit.package, "p.crp");
  REQUIRE(good);
  REQUIRE(good->layout.documents.count != 0);
  Bytes bytes = kit.package;
  bytes[good->layout.documents.items[0].offset] ^= 1U;
  CHECK(fault_of(bytes) == "doc/" + std::string(good->manifest.files.items[0].name.view()));
}
