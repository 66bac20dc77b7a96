#include "trust/dsse.h"

#include "base/number.h"

namespace cardseal::trust {
namespace {

void put(DsseHead& head, std::string_view text) {
  for (const char c : text) {
    if (head.size < head.bytes.size()) {
      head.bytes[head.size++] = c;
    }
  }
}

void put(DsseHead& head, std::size_t number) {
  std::array<char, 20> spelled{};
  put(head, std::string_view(spelled.data(), spell_uint(number, spelled)));
}

constexpr std::string_view type_start = "application/vnd.cardseal.";
constexpr std::string_view type_end = ".v1";

} // namespace

DsseHead dsse_head(std::string_view type, std::size_t body_size) {
  DsseHead head;
  put(head, "DSSEv1 ");
  put(head, type.size());
  put(head, " ");
  put(head, type);
  put(head, " ");
  put(head, body_size);
  put(head, " ");
  return head;
}

DsseHead dsse_head_for_kind(std::string_view kind, std::size_t body_size) {
  std::array<char, 64> type{};
  std::size_t size = 0;
  for (const std::string_view piece : {type_start, kind, type_end}) {
    for (std::size_t i = 0; i < piece.size() && size < type.size(); ++i) {
      type[size++] = piece[i];
    }
  }
  return dsse_head({type.data(), size}, body_size);
}

} // namespace cardseal::trust
