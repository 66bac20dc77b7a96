// A unit's memory read back, compared with what was to be in it, and signed by quality.
#include "lot_statement.h"

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "image/load.h"
#include "image_print.h"
#include "image_rules.h"
#include "lot_units.h"
#include "package/package.h"
#include "trace/trace.h"
#include "words.h"

namespace cardseal::tool {
namespace {

Try<UnitAt> unit_of(const LotFirstArticleOptions& options, const lot::Account& account,
                    const package::Package& package) {
  if (options.serial.empty() == (options.card.empty() || options.unit == 0)) {
    return Unexpected(usage_error("the unit that was read back is named in one of two ways",
                                  options.serial.empty() ? "neither" : "both",
                                  "--serial, or --card with --unit"));
  }
  if (!options.serial.empty()) {
    return unit_of_label(account, {package}, options.serial);
  }
  TRY(card, card_of(account, options.card));
  if (options.unit > card->row.units) {
    return Unexpected(usage_error("the card has no such unit", std::to_string(options.unit),
                                  fmt::format("1 to {}", card->row.units)));
  }
  return UnitAt{card, options.unit - 1};
}

Error other_package(const LotFirstArticleOptions& options, const registry::AllotmentRow& row) {
  return error_of(ErrorKind::config, "package-other",
                  "the unit's card was made from another package", options.package,
                  crypto::spell_digest(row.manifest), "name that one");
}

// The log of its card may still be out: then only the reading itself speaks for the unit.
Try<void> check_begun(registry::Register& numbers, const UnitAt& unit) {
  TRY(result, numbers.result_of(unit.card->row.id, unit.place));
  if (!result) {
    note("no log of that card was reconciled yet: that this unit was begun nobody has told");
    return {};
  }
  if (!result->begun) {
    return Unexpected(
        refused("unit-unused", "by its card's log this unit was never begun",
                fmt::format("unit {} of card {}", unit.place + 1, crypto::hex(unit.card->row.card)),
                "a unit that a station programmed",
                "look which board was read; or reconcile the card's newest log"));
  }
  return {};
}

Try<image::ReadBackReport> compare(const LotFirstArticleOptions& options,
                                   const package::Package& package, const UnitAt& unit,
                                   const image::Loaded& read_back) {
  const registry::AllotmentRow& row = unit.card->row;
  ImageOptions rules_of;
  rules_of.read_back = options.read_back;
  rules_of.device = options.device;
  if (row.scheme) {
    rules_of.release = options.package;
    rules_of.unit = row.ordinal_of(unit.place);
    rules_of.date_code = row.date_code.value_or("");
    rules_of.work_class = row.work_class;
  }
  TRY(rules, read_back_rules(rules_of));
  TRY(image, package::image_of(package));
  return image::explain(image, read_back.firmware.image, rules);
}

std::uint32_t bytes_of_cause(const image::ReadBackReport& report, image::Cause cause) {
  return static_cast<std::uint32_t>(report.bytes[static_cast<std::size_t>(cause)]);
}

Try<format::FirstArticle> text_of(const LotFirstArticleOptions& options, const Signer& signer,
                                  const package::Package& package, const UnitAt& unit,
                                  const image::Loaded& file, const image::ReadBackReport& report) {
  const registry::AllotmentRow& row = unit.card->row;
  format::FirstArticle first;
  TRY(work_order, to_text<24>(options.work_order, "the work order"));
  first.owner = signer.owner.root.owner;
  first.manifest = package.manifest_digest;
  first.product = package.manifest.product;
  first.work_order = work_order;
  first.card = row.card;
  first.ordinal = row.ordinal_of(unit.place);
  if (row.scheme) {
    const trace::Unit label = trace::unit_of(package, row, first.ordinal);
    format::Text<128> serial;
    (void)serial.set(label.text.empty() ? std::to_string(label.number) : label.text);
    first.serial.set(serial);
  }
  first.read_back = file.file_digest;
  first.equal = static_cast<std::uint32_t>(report.equal_bytes);
  first.serial_bytes = bytes_of_cause(report, image::Cause::serial);
  first.kept = bytes_of_cause(report, image::Cause::kept);
  first.configuration = bytes_of_cause(report, image::Cause::configuration);
  first.unreadable = bytes_of_cause(report, image::Cause::unreadable);
  first.erased = static_cast<std::uint32_t>(report.erased_bytes);
  first.person = signer.person;
  first.reason = signer.reason;
  first.time = signer.time;
  return first;
}

} // namespace

Ran run_lot_first_article(const LotFirstArticleOptions& options) {
  TRY(package, package::read(io::real_system(), options.package));
  TRY(signer, open_signer(options.statement, {package.manifest.product}));
  TRY(numbers, registry::Register::open(io::real_system(), options.statement.registered,
                                        signer.owner.root.owner));
  TRY(account, lot::account_of(numbers, options.work_order));
  TRY(unit, unit_of(options, account, package));
  if (!account.is_own(*unit.card)) {
    return Unexpected(refused("unit-merged",
                              "a first article is a board of the order that asks for it",
                              fmt::format("a board of {}", unit.card->row.work_order),
                              fmt::format("one of a card that was made for {}", account.work_order),
                              "read back a board of such a card"));
  }
  if (unit.card->row.manifest != package.manifest_digest) {
    return Unexpected(other_package(options, unit.card->row));
  }
  TRY_VOID(check_begun(numbers, unit));
  TRY(read_back, image::load_firmware(io::real_system(), options.read_back));
  TRY(report, compare(options, package, unit, read_back));
  say(fmt::format("unit        {} of card {}", units_words(unit.card->row, {unit.place, 1}, {}),
                  crypto::hex(unit.card->row.card)));
  print(report);
  if (report.unexplained_bytes() != 0) {
    note("this board is not what was approved: nothing was signed. Look for the cause before any "
         "other board is made");
    return 1;
  }
  TRY(text, text_of(options, signer, package, unit, read_back, report));
  TRY(spelled, seal::spell(text));
  Draft draft{format::FirstArticle::kind,
              registry::StatementKind::first_article,
              "first article",
              options.work_order,
              fmt::format("first article of {}", options.work_order),
              std::move(spelled),
              {},
              {}};
  return sign_statement(numbers, options.statement, signer, draft);
}

} // namespace cardseal::tool
