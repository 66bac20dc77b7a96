#include "given.h"

#include <iterator>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "package/whole.h"

namespace cardseal::tool {
namespace {

Error no_cards(const std::string& work_order, const std::string& file) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = "work-order-unknown";
  error.what = "this register made no card for the work order";
  error.place.file = file;
  error.found = work_order;
  error.hint = "look at its spelling: cardseal serial list";
  return error;
}

} // namespace

Try<std::vector<package::Package>> read_whole_packages(const std::vector<std::string>& files) {
  std::vector<package::Package> packages;
  packages.reserve(files.size());
  for (const std::string& file : files) {
    TRY(package, package::read(io::real_system(), file));
    TRY_VOID(package::check_whole(package));
    packages.push_back(std::move(package));
  }
  return packages;
}

std::vector<const package::Package*> pointers_to(const std::vector<package::Package>& packages) {
  std::vector<const package::Package*> out;
  out.reserve(packages.size());
  for (const package::Package& package : packages) {
    out.push_back(&package);
  }
  return out;
}

std::string source_of(const package::Package& package) {
  return fmt::format("package {}, {}", package.file, crypto::spell_digest(package.manifest_digest));
}

std::string source_of(const std::string& register_file, const registry::Head& head) {
  return fmt::format("register {}, {} entries, the last {}", register_file, head.entries,
                     crypto::spell_digest(head.digest));
}

Try<std::vector<page::CardOfSet>>
cards_of_lot(registry::Register& numbers, const std::string& work_order, const std::string& file) {
  TRY(rows, numbers.allotments_of(work_order));
  TRY(merges, numbers.merged_into(work_order));
  for (const registry::Merge& merge : merges) {
    TRY(more, numbers.allotments_of(merge.work_order));
    std::move(more.begin(), more.end(), std::back_inserter(rows));
  }
  if (rows.empty()) {
    return Unexpected(no_cards(work_order, file));
  }
  std::vector<page::CardOfSet> cards;
  cards.reserve(rows.size());
  for (registry::AllotmentRow& row : rows) {
    TRY(fates, numbers.fates_of(row.card));
    cards.push_back({std::move(row), std::move(fates), {}});
  }
  return cards;
}

} // namespace cardseal::tool
