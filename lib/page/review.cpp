#include "page/frame.h"
#include "page/render.h"
#include "page/review_parts.h"

namespace cardseal::page {

std::string review_page(const ReviewInput& input) {
  const package::Package& package = input.package;
  Fields page;
  put_identity(page, input);
  put_changes(page, input);
  put_signoffs(page, input);
  put_findings(page, package.facts);
  put_firmware(page, package);
  put_settings(page, package);
  put_supply(page, package);
  put_work(page, package.facts);
  put_serials(page, package.manifest);
  put_times(page, package.facts);
  put_formulas(page, package.facts);
  put_printed_copy(page, "review");
  return render("review.html", page);
}

} // namespace cardseal::page
