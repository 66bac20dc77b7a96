#include "lot/order.h"

#include <algorithm>

#include "io/file.h"
#include "xml/scan.h"

namespace cardseal::lot {
namespace {

constexpr std::size_t name_size = 24;
constexpr std::size_t most_boards = 1000; // named one by one on a card

std::string maybe_name(const xml::Element& element, std::string_view attribute) {
  return element.has(attribute) ? element.display(attribute, 1, name_size) : std::string();
}

OrderCard read_card(const xml::Element& element) {
  OrderCard card;
  card.where = element.place();
  card.place = element.display("place", 1, name_size);
  card.station = element.id("station", 16);
  card.model = element.id("model", 16);
  card.units = element.uint("units", 1, 9'999'999);
  if (element.has("slots")) {
    card.slots = element.plain("slots", 1, 100, "0123456789,-");
  }
  card.spare = element.has("spare") && element.yes_no("spare");
  card.line = maybe_name(element, "line");
  card.continues = maybe_name(element, "continues");
  if (element.has("numbers")) {
    card.numbers = element.choice<format::Numbers>("numbers", format::numbers_words);
  }
  for (const xml::Element& board : element.many("board", 0, most_boards)) {
    card.boards.emplace_back(board.display("serial", 1, 128), board.place());
  }
  return card;
}

// A place names one card, and what it continues stands before it.
void check_place(const xml::Element& element, const OrderCard& card,
                 const std::vector<OrderCard>& before) {
  const auto is = [&](const std::string& name) {
    return std::any_of(before.begin(), before.end(),
                       [&](const OrderCard& other) { return other.place == name; });
  };
  if (!element.sound()) {
    return;
  }
  if (is(card.place)) {
    element.refuse("place", "two cards have one place", card.place, "each place once",
                   "give every card a place of its own");
  }
  if (!card.continues.empty() && !is(card.continues)) {
    element.refuse("continues", "no card before this one has that place", card.continues,
                   "the place of a card above", "name the place whose card broke down");
  }
}

void read_what(const xml::Element& root, Order& order) {
  const xml::Element release = root.one("release");
  order.release_place = release.place();
  order.product = release.id("product", 16);
  order.version = release.display("version", 1, name_size);
  order.board_revision = release.uint("board-revision", 0, 999'999);
  const xml::Element boards = root.one("boards");
  order.boards_place = boards.place();
  order.quantity = boards.uint("quantity", 1, 9'999'999);
  order.spares = boards.uint("spares", 0, 9'999'999);
}

void read_terms(const xml::Element& root, Order& order) {
  if (const xml::Element date = root.maybe("date-code")) {
    order.date_code = date.display("text", 1, 16);
  }
  for (const xml::Element& reel : root.many("reel", 0, 16)) {
    order.reels.push_back({reel.display("lot", 1, name_size), reel.display("part", 1, name_size)});
  }
  for (const xml::Element& silicon : root.many("silicon", 0, 8)) {
    order.silicon.push_back({silicon.text("revision", 1, 40), silicon.place()});
  }
  if (const xml::Element first = root.maybe("first-article")) {
    order.first_article = first.yes_no("required");
  }
  if (const xml::Element parent = root.maybe("parent")) {
    order.parent = parent.display("work-order", 1, name_size);
  }
  if (const xml::Element data = root.maybe("data-memory")) {
    order.data_memory_may_be_lost = data.yes_no("may-be-lost");
  }
}

} // namespace

xml::All<Order> parse_order(ByteView bytes, const std::string& file) {
  Try<xml::Document> document = xml::Document::parse(text_of(bytes), file);
  if (!document) {
    return Unexpected(xml::Errors{std::move(document).error()});
  }
  xml::Reader reader(*document);
  const xml::Element root = reader.root("order");
  (void)root.uint("schema", 1, 1);
  Order order;
  order.file = file;
  order.bytes.assign(bytes.begin(), bytes.end());
  order.place = root.place();
  order.work_order = root.display("work-order", 1, name_size);
  order.revision = root.uint("revision", 1, 9'999);
  order.work_class = root.choice<format::WorkClass>("class", format::work_class_words);
  read_what(root, order);
  read_terms(root, order);
  for (const xml::Element& element : root.many("card", 1, 99)) {
    OrderCard card = read_card(element);
    check_place(element, card, order.cards);
    order.cards.push_back(std::move(card));
  }
  return reader.result(std::move(order));
}

xml::All<Order> read_order(io::System& system, const io::Path& file) {
  Try<io::Bytes> bytes = io::read_file(system, file, xml::max_file_bytes);
  return bytes ? parse_order(*bytes, file.string())
               : Unexpected(xml::Errors{std::move(bytes).error()});
}

} // namespace cardseal::lot
