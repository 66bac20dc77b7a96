// libzint 2.11 (Debian 12) and 2.15 (Debian 13) are alike in what is used here: the modules of a
// row stand in encoded_data from bit 0 of byte 0 on.
#include "page/code.h"

#include <memory>

#include <fmt/format.h>
#include <zint.h>

namespace cardseal::page {
namespace {

struct Delete {
  void operator()(zint_symbol* symbol) const { ZBarcode_Delete(symbol); }
};

bool is_dark(const zint_symbol& symbol, int row, int column) {
  return (symbol.encoded_data[row][column >> 3] >> (column & 7) & 1) != 0;
}

// A run of dark modules is one piece of the path.
std::string path_of(const zint_symbol& symbol) {
  std::string out;
  for (int row = 0; row < symbol.rows; ++row) {
    int column = 0;
    while (column < symbol.width) {
      int end = column;
      while (end < symbol.width && is_dark(symbol, row, end)) {
        ++end;
      }
      if (end != column) {
        out += fmt::format("M{} {}h{}v1h-{}z", column, row, end - column, end - column);
      }
      column = end + 1;
    }
  }
  return out;
}

} // namespace

Try<Code> make_code(CodeKind kind, std::string_view text) {
  const std::unique_ptr<zint_symbol, Delete> symbol(ZBarcode_Create());
  symbol->symbology = kind == CodeKind::qr ? BARCODE_QRCODE : BARCODE_DATAMATRIX;
  symbol->option_1 =
      kind == CodeKind::qr ? 2 : -1; // level M of ISO/IEC 18004; ECC 200 has no levels
  symbol->option_3 = kind == CodeKind::qr ? 0 : DM_SQUARE;
  const std::string source(text);
  const auto* const bytes = reinterpret_cast<const unsigned char*>(source.data());
  if (ZBarcode_Encode(symbol.get(), bytes, static_cast<int>(source.size())) >= ZINT_ERROR) {
    Error error;
    error.code = "code-not-made";
    error.what = "the machine-readable code can't be made";
    error.found = symbol->errtxt;
    return Unexpected(std::move(error));
  }
  return Code{static_cast<unsigned>(symbol->width), static_cast<unsigned>(symbol->rows),
              path_of(*symbol)};
}

} // namespace cardseal::page
