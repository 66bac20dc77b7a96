#include <algorithm>
#include <span>
#include <vector>

#include <fmt/format.h>

#include "card/unit_words.h"
#include "page/card_parts.h"
#include "page/code.h"
#include "page/render.h"

namespace cardseal::page {
namespace {

constexpr std::uint64_t tenths = 10;       // sizes in the style are in tenths of a millimetre
constexpr std::uint64_t edge = 10;         // white around, 1 mm
constexpr std::uint64_t letter_width = 72; // hundredths of the writing's height: a wide letter's
constexpr std::uint64_t least_writing =
    12; // tenths: smaller can't be read (common practice, no source)

std::string millimetres(std::uint64_t in_tenths) {
  return fmt::format("{}.{}", in_tenths / tenths, in_tenths % tenths);
}

Error labels_error(ErrorKind kind, const char* code, std::string what, std::string found,
                   std::string expected) {
  Error error;
  error.kind = kind;
  error.code = code;
  error.what = std::move(what);
  error.found = std::move(found);
  error.expected = std::move(expected);
  return error;
}

Try<void> check_stock(const NumberLabels& labels) {
  if (!labels.stock) {
    return {};
  }
  const LabelStock& s = *labels.stock;
  const bool apart =
      s.pitch_x >= labels.width_mm * tenths && s.pitch_y >= labels.height_mm * tenths;
  if (!apart || s.columns == 0 || s.rows == 0) {
    return Unexpected(labels_error(
        ErrorKind::usage, "labels-stock", "labels of this stock would lie on each other",
        fmt::format("a pitch of {}x{} mm", millimetres(s.pitch_x), millimetres(s.pitch_y)),
        fmt::format("at least {}x{} mm, one column and one row", labels.width_mm,
                    labels.height_mm)));
  }
  return {};
}

Try<void> check(const CardInput& in, const NumberLabels& labels) {
  const format::Allotment& a = in.allotment;
  if (a.count == 0 || !in.package.manifest.scheme.present) {
    return Unexpected(labels_error(ErrorKind::bad_data, "no-serials",
                                   "this card gives its boards no serial numbers", "no numbers",
                                   "a release with <serial>"));
  }
  if (labels.first < 1 || labels.first > labels.last || labels.last > a.count) {
    return Unexpected(labels_error(ErrorKind::usage, "labels-units", "the card has no such units",
                                   fmt::format("{}-{}", labels.first, labels.last),
                                   fmt::format("1-{}", a.count)));
  }
  if (labels.last - labels.first >= most_number_labels) {
    return Unexpected(labels_error(ErrorKind::usage, "labels-many",
                                   "these are too many labels for one page",
                                   std::to_string(labels.last - labels.first + 1),
                                   fmt::format("at most {}", most_number_labels)));
  }
  return check_stock(labels);
}

// As large as fits beside the code, or the label's height allows.
std::uint64_t writing_of(const NumberLabels& labels, std::uint64_t code_side, std::size_t letters) {
  const std::uint64_t room = labels.width_mm * tenths - 3 * edge - code_side;
  const std::uint64_t by_width = room * 100 / (letter_width * std::max<std::size_t>(letters, 1));
  return std::min(by_width, labels.height_mm * tenths * 3 / 10);
}

// Row by row from the upper left, as sheets of labels are numbered (common practice, no source).
void put_place(Fields& row, const LabelStock& stock, std::uint64_t at) {
  Fields& place = row.add("PLACED");
  place.set("LEFT", millimetres(stock.left + at % stock.columns * stock.pitch_x));
  place.set("TOP", millimetres(stock.top + at / stock.columns * stock.pitch_y));
}

// `at`: its place on the sheet.
Try<void> put_label(Fields& sheet, const NumberLabels& labels, const std::string& text,
                    std::uint64_t at) {
  Fields& row = sheet.add("NUMBER_LABEL");
  row.set("SERIAL", text);
  if (labels.stock) {
    put_place(row, *labels.stock, at);
  }
  if (!labels.code) {
    return {};
  }
  Try<Code> code = make_code(*labels.code, text);
  if (!code) {
    return Unexpected(std::move(code).error());
  }
  const unsigned quiet = *labels.code == CodeKind::qr ? 4 : 1; // modules, ISO/IEC 18004 and 16022
  Fields& drawn = row.add("CODE");
  drawn.set("QUIET", quiet);
  drawn.set("CODE_WIDTH", code->width + 2 * quiet);
  drawn.set("CODE_HEIGHT", code->height + 2 * quiet);
  drawn.set("CODE_PATH", code->path);
  return {};
}

Try<void> put_sizes(Fields& page, const NumberLabels& labels, std::size_t letters) {
  const std::uint64_t most_side =
      std::min(labels.height_mm * tenths - 2 * edge, labels.width_mm * tenths / 2);
  const std::uint64_t side = labels.code ? most_side : 0;
  const std::uint64_t writing = writing_of(labels, side, letters);
  if (writing < least_writing) {
    return Unexpected(labels_error(
        ErrorKind::usage, "labels-small", "the serials can't be read on labels of this size",
        fmt::format("writing of {} mm", millimetres(writing)),
        fmt::format("at least {} mm: wider labels, or --code none", millimetres(least_writing))));
  }
  page.set("WIDTH", labels.width_mm);
  page.set("HEIGHT", labels.height_mm);
  page.set("SIDE", millimetres(side));
  page.set("WRITING", millimetres(writing));
  return {};
}

Try<std::vector<std::string>> texts_of(const CardInput& in, const NumberLabels& labels) {
  std::vector<std::string> texts;
  for (std::uint64_t unit = labels.first; unit <= labels.last; ++unit) {
    Try<std::string> text = card::unit_words(
        in.package.manifest, format::ordinal_at(in.allotment, unit - 1), &in.allotment);
    if (!text) {
      return Unexpected(std::move(text).error());
    }
    texts.push_back(std::move(*text));
  }
  return texts;
}

Try<void> put_sheet(Fields& sheet, const NumberLabels& labels, std::span<const std::string> texts) {
  constexpr std::uint64_t head = 70; // tenths: a line of words above the labels
  sheet.set("FIRST", texts.front());
  sheet.set("LAST", texts.back());
  sheet.show(labels.stock && labels.stock->top < head ? "NO_ROOM" : "HEAD_FITS");
  if (labels.stock) {
    const LabelStock& s = *labels.stock;
    sheet.add("TALL").set("SHEET_HEIGHT", millimetres(s.top + s.rows * s.pitch_y));
  }
  std::uint64_t at = 0;
  for (const std::string& text : texts) {
    if (Try<void> put = put_label(sheet, labels, text, at++); !put) {
      return put;
    }
  }
  return {};
}

Try<void> put_sheets(Fields& page, const NumberLabels& labels, std::span<const std::string> texts) {
  const std::size_t a_sheet =
      labels.stock ? labels.stock->columns * labels.stock->rows : texts.size();
  page.set("SHEETS", (texts.size() + a_sheet - 1) / a_sheet);
  for (std::size_t from = 0; from < texts.size(); from += a_sheet) {
    Fields& sheet = page.add("LABEL_SHEET");
    sheet.set("SHEET", from / a_sheet + 1);
    if (Try<void> put =
            put_sheet(sheet, labels, texts.subspan(from, std::min(a_sheet, texts.size() - from)));
        !put) {
      return put;
    }
  }
  return {};
}

} // namespace

Try<std::string> number_labels_page(const CardInput& in, const NumberLabels& labels) {
  if (Try<void> good = check(in, labels); !good) {
    return Unexpected(std::move(good).error());
  }
  Try<std::vector<std::string>> texts = texts_of(in, labels);
  if (!texts) {
    return Unexpected(std::move(texts).error());
  }
  Fields page;
  std::size_t letters = 0;
  for (const std::string& text : *texts) {
    letters = std::max(letters, text.size());
  }
  Try<void> put = put_card(page, in);
  if (put) {
    put = put_sizes(page, labels, letters);
  }
  page.show_if(labels.stock.has_value(), "ON_STOCK");
  if (put) {
    put = put_sheets(page, labels, *texts);
  }
  if (!put) {
    return Unexpected(std::move(put).error());
  }
  return render("labels.html", page);
}

} // namespace cardseal::page
