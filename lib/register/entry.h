// Entries of the history: how their bodies are spelled, and appending one. A body is lines of
// `key value`, the first `entry <number> <kind>`; nothing in it holds a line end.
#pragma once

#include "crypto/sha256.h"
#include "register/sqlite.h"
#include "register/types.h"

namespace cardseal::registry {

class Body {
public:
  Body(std::uint64_t number, std::string_view kind);
  Body& put(std::string_view key, std::uint64_t value);
  Body& put(std::string_view key, std::string_view value);
  Body& digest(std::string_view key, ByteView value); // "sha256:..."
  Body& hex(std::string_view key, ByteView value);
  const std::string& text() const { return text_; }

private:
  std::string text_;
};

Body owner_body(std::uint64_t number, const format::Digest& owner);
Body window_body(std::uint64_t number, ByteView key, std::string_view scheme, std::uint64_t first,
                 std::uint64_t last);
Body scheme_body(std::uint64_t number, std::string_view scheme, ByteView definition);
Body range_body(std::uint64_t number, std::string_view use, std::string_view scheme,
                const Range& range, std::string_view note);
Body enrolment_body(std::uint64_t number, std::string_view station, std::uint64_t enrolment,
                    std::uint64_t first_serial);
Body lot_body(std::uint64_t number, const AllotmentRow& row, std::uint64_t quantity);
// All but the card.
Body allotment_body(std::uint64_t number, const AllotmentRow& row);
Body sealed_body(std::uint64_t number, std::uint64_t allotment, ByteView text);
Body written_body(std::uint64_t number, std::uint64_t allotment);
Body stop_body(std::uint64_t number, const Stop& stop);
Body outcome_body(std::uint64_t number, std::uint64_t allotment, ByteView begun, ByteView good,
                  std::uint64_t begun_count, std::uint64_t good_count);
Body fate_body(std::uint64_t number, std::uint64_t allotment, std::string_view fate,
               std::string_view by, std::string_view note);
Body order_body(std::uint64_t number, const OrderRow& order);
Body order_file_body(std::uint64_t number, ByteView bytes);
Body place_body(std::uint64_t number, std::uint64_t lot, std::string_view work_order,
                std::string_view place);
Body settled_body(std::uint64_t number, const Settlement& settled);
Body rework_body(std::uint64_t number, const Rework& rework);
Body label_body(std::uint64_t number, const LabelNote& note);
Body merge_body(std::uint64_t number, const Merge& merge);
Body statement_body(std::uint64_t number, const Statement& statement);
Body met_body(std::uint64_t number, const Evidence& evidence, std::string_view standing);

format::Digest entry_digest(const format::Digest& previous, std::string_view body);
// The card's id when none is stated: of the entry as far as it stands without it.
format::CardId card_of(const format::Digest& previous, const Body& body);

Try<Head> head_of(Database& database);
// Appends; `head` moves on.
Try<void> append(Database& database, Head& head, const Body& body);

} // namespace cardseal::registry
