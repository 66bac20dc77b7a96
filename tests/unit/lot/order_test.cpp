// What an order, and what a closure, is refused for; by values, without files.
#include "lot/check.h"
#include "lot/close.h"
#include "unit/register/desk.h"

using namespace cardseal;
using namespace cardseal::lot;

namespace {

package::Package package_of(format::Lock lock = format::Lock::none) {
  package::Package package;
  package.manifest_digest.fill(7);
  format::Manifest& m = package.manifest;
  m.product = test::id("frost-node");
  m.release = test::text<24>("2.4.1");
  m.title = test::text<24>("FROST NODE");
  m.device = test::text<32>("tx32");
  m.board_revision = 3;
  m.lock = lock;
  m.slots = 0x3F;
  CHECK(m.station_models.add(test::id("row-six")));
  return package;
}

Order order_of() {
  Order order;
  order.work_order = "WO-7";
  order.product = "frost-node";
  order.version = "2.4.1";
  order.board_revision = 3;
  order.quantity = 10;
  OrderCard card;
  card.place = "1";
  card.station = "orchard-1";
  card.model = "row-six";
  card.units = 10;
  order.cards.push_back(card);
  return order;
}

profile::Device device_of() {
  profile::Device device;
  device.id = "tx32";
  device.device_id.emplace();
  device.device_id->revisions = {{{0}, "A", false}, {{1}, "B", true}, {{2}, "C", true}};
  return device;
}

std::string codes(const std::vector<Error>& errors) {
  std::string out;
  for (const Error& error : errors) {
    out += (out.empty() ? "" : " ") + error.code;
  }
  return out;
}

} // namespace

TEST_CASE("a permanent lock goes neither with a first article nor with class engineering") {
  const package::Package locked = package_of(format::Lock::permanent);
  Order order = order_of();
  CHECK(codes(check_order(order, locked, nullptr)).empty());
  order.first_article = true;
  CHECK(codes(check_order(order, locked, nullptr)) == "order-lock");
  CHECK(codes(check_order(order, package_of(), nullptr)).empty());
  order.first_article = false;
  order.work_class = format::WorkClass::engineering;
  CHECK(codes(check_order(order, locked, nullptr)) == "order-engineering order-lock");
}

TEST_CASE("revisions of the silicon are those that the device's profile allows") {
  const profile::Device device = device_of();
  Order order = order_of();
  CHECK(codes(check_order(order, package_of(), nullptr, &device)).empty());
  order.silicon = {{"B", {}}, {"C", {}}};
  CHECK(codes(check_order(order, package_of(), nullptr, &device)).empty());
  CHECK(codes(check_order(order, package_of(), nullptr)) == "order-silicon"); // nobody to ask
  order.silicon = {{"A", {}}, {"D", {}}};                                     // barred, unknown
  const auto errors = check_order(order, package_of(), nullptr, &device);
  CHECK(codes(errors) == "order-silicon order-silicon");
  CHECK(errors.front().expected == "B, C");
  profile::Device other = device;
  other.id = "tx33";
  CHECK(codes(check_order(order, package_of(), nullptr, &other)) == "order-silicon");
}

TEST_CASE("a closure names every package, and holds so many cards and no more") {
  const registry::Desk desk;
  registry::Register numbers = desk.open();
  const std::vector<package::Package> packages{package_of()};
  Account account;
  account.work_order = "WO-7";
  const auto close = [&](std::size_t cards) {
    account.cards.resize(cards);
    for (std::size_t i = 0; i < cards; ++i) {
      registry::AllotmentRow& row = account.cards[i].row;
      row.card = {static_cast<std::uint8_t>(i >> 8), static_cast<std::uint8_t>(i)};
      row.station = "orchard-1";
      row.units = 1;
      row.manifest.fill(7);
      account.cards[i].standing = lot::Standing::counted;
      account.cards[i].counts.unused = 1;
    }
    return registry::code_of(close_text(numbers, {account, packages, {1, {}}, {}}));
  };
  CHECK(close(200) == "done");
  CHECK(close(201) == "lot-size");
  CHECK(close(2) == "done");
  account.cards[1].row.manifest.fill(8);
  CHECK(registry::code_of(close_text(numbers, {account, packages, {1, {}}, {}})) ==
        "package-missing");
}

// The one that is there may be of a signer who was revoked since.
TEST_CASE("a first article that does not count lets no more than one card be made") {
  Order order = order_of();
  order.first_article = true;
  for (const char* place : {"2", "3"}) {
    order.cards.push_back(order.cards.front());
    order.cards.back().place = place;
  }
  Account account;
  account.work_order = order.work_order;
  CardAccount card;
  card.row.work_order = order.work_order;
  card.place = "1";
  account.cards.push_back(card);
  registry::Statement statement;
  statement.kind = registry::StatementKind::first_article;
  statement.work_order = order.work_order;
  account.statements.push_back(statement);
  for (const lot::Standing gone :
       {lot::Standing::lost, lot::Standing::destroyed, lot::Standing::not_made}) {
    account.cards.front().standing = gone;
    CHECK(cards_to_make(order, &account).size() == 1);
  }
  account.first_article = true;
  CHECK(cards_to_make(order, &account).size() == 2);
}
