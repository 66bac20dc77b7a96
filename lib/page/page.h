// The pages that people read, sign and file: one HTML file each, with no script and nothing outside
// of it, rendered from sealed texts only. Templates, words and the one style sheet are in
// templates/pages.
//
//   std::string html = review_page({package, ...});     what quality and an auditor read
//   Try<std::string> html = sheet_page({package, allotment, index});  the one page for the floor
//   Try<std::string> html = label_page({package, allotment, index}, CodeKind::data_matrix);
//
// The same texts give the same bytes: nothing is taken from the clock, the machine or a file's
// name. Every text of an author is escaped where it stands. A number is in a <data> element, whose
// data-of names the same in the JSON of `cardseal show`.
#pragma once

#include <optional>
#include <string>

#include "compare/differences.h"
#include "format/card_texts.h"
#include "format/trust_list.h"
#include "package/package.h"

namespace cardseal::page {

struct Judged { // by one trust list
  Outcome outcome;
  std::uint32_t root_version = 1;
  const format::TrustList& list;
};

struct Before { // the package that the manifest names as previous
  const package::Package& package;
  const compare::Report& changes;
  std::optional<Outcome> judged; // none: its signatures were not looked at
};

struct ReviewInput {
  const package::Package& package; // whole (package/whole.h)
  const Before* before = nullptr;  // none: not at hand
  const Judged* judged = nullptr;  // none: signatures were not looked at
};

std::string review_page(const ReviewInput& input);

struct CardInput { // of a card that was verified
  const package::Package& package;
  const format::Allotment& allotment;
  const format::CardIndex& index;
  std::string_view model; // of a station that reads plain files; empty: by the file on the card
  std::uint32_t job = 1;  // the allotment's place among those of the card, which has
  std::uint32_t jobs = 1; // so many
};

enum class CodeKind : std::uint8_t { qr, data_matrix };

// An error when the allotment does not fit the package, or when it is open which model of station
// reads the plain file.
Try<std::string> sheet_page(const CardInput& input);
Try<std::string> label_page(const CardInput& input, CodeKind kind);

inline constexpr std::uint64_t most_number_labels = 400; // on one page, so that it stays small

struct LabelStock { // sheets of labels that are cut already; tenths of a millimetre
  std::uint64_t columns = 1;
  std::uint64_t rows = 1;
  std::uint64_t pitch_x = 0; // from the left edge of a label to that of the next
  std::uint64_t pitch_y = 0;
  std::uint64_t left = 0; // of the first label on the paper
  std::uint64_t top = 0;
};

struct NumberLabels {           // one for each unit, to stick on the boards
  std::uint64_t width_mm = 38;  // 10 to 200
  std::uint64_t height_mm = 21; // 5 to 200
  std::optional<CodeKind> code; // beside the text; none: the text alone
  std::uint64_t first = 1;      // units of the card, counted from 1, both included
  std::uint64_t last = 1;
  std::optional<LabelStock> stock; // none: plain paper, to be cut
};
Try<std::string> number_labels_page(const CardInput& input, const NumberLabels& labels);

} // namespace cardseal::page
