#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "card/verify.h"
#include "crypto/sha256.h"
#include "file_kind.h"
#include "package/whole.h"
#include "page/page.h"
#include "verify_statement.h"

namespace cardseal::tool {
namespace {

Error wrong_file(const char* code, std::string what, const std::string& file, std::string found,
                 std::string expected, std::string hint = {}) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = code;
  error.what = std::move(what);
  error.place.file = file;
  error.found = std::move(found);
  error.expected = std::move(expected);
  error.hint = std::move(hint);
  return error;
}

// A page of a damaged package would be believed.
Try<compare::Side> read_side(const std::string& file) {
  TRY(package, package::read(io::real_system(), file));
  TRY_VOID(package::check_whole(package));
  TRY(image, package::image_of(package));
  return compare::Side{std::move(package), std::move(image), true};
}

struct Compared { // with the package before
  compare::Side before;
  compare::Report changes;
};

Try<std::optional<Compared>> read_before(const std::string& file, const compare::Side& side) {
  if (file.empty()) {
    return std::optional<Compared>();
  }
  TRY(before, read_side(file));
  const format::Digest& found = before.package.manifest_digest;
  const format::Maybe<format::Digest>& named = side.package.manifest.previous;
  if (!named.present || named.value != found) {
    return Unexpected(wrong_file(
        "diff-other-previous", "this is not the package that the release follows", file,
        crypto::spell_digest(found),
        named.present ? crypto::spell_digest(named.value) : "none: the release names none",
        "cardseal diff compares any two"));
  }
  TRY(changes, compare::compare(before, side, {}));
  return std::optional<Compared>(Compared{std::move(before), std::move(changes)});
}

Try<void> check_package_options(const ReviewOptions& options) {
  if (options.root.empty() != options.trust.empty()) {
    return Unexpected(usage_error("signatures are checked against a root and a trust list",
                                  options.root.empty() ? "--trust alone" : "--root alone",
                                  "--root FILE and --trust FILE, or neither"));
  }
  if (!options.withdrawals.empty() && options.trust.empty()) {
    return Unexpected(usage_error("a withdrawal counts beside a trust list", "no --trust",
                                  "--root FILE and --trust FILE"));
  }
  if (options.label || !options.labels.empty() || !options.units.empty() ||
      !options.model.empty() || !options.stock.empty() || !options.pitch.empty() ||
      !options.corner.empty() || options.job) {
    return Unexpected(
        usage_error("labels, --model and --job are for cards", options.file, "a card"));
  }
  return {};
}

Ran write_page(const ReviewOptions& options, const std::string& html) {
  TRY_VOID(
      io::write_file(io::real_system(), options.output, bytes_of(html), if_exists(options.force)));
  return 0;
}

struct Verdict { // of package and previous one, when there is a list to judge by
  Owner owner;
  Outcome package;
  std::optional<Outcome> before;
};

Try<Verdict> judge(const ReviewOptions& options, const compare::Side& side,
                   const std::optional<Compared>& compared) {
  TRY(owner, read_owner(options.root, options.trust, options.withdrawals));
  const auto outcome = [&owner](const compare::Side& each) {
    return package::judge_bytes(each.package.bytes, owner.root, owner.trust.list).outcome;
  };
  const Outcome package = outcome(side);
  std::optional<Outcome> previous;
  if (compared) {
    previous = outcome(compared->before);
  }
  return Verdict{std::move(owner), package, previous};
}

Ran write_review(const ReviewOptions& options, const compare::Side& side,
                 const std::optional<Compared>& compared, const Verdict* verdict) {
  std::optional<page::Judged> judged;
  if (verdict != nullptr) {
    judged.emplace(page::Judged{verdict->package, verdict->owner.root.root.version,
                                verdict->owner.trust.list});
  }
  std::optional<page::Before> before;
  if (compared) {
    before.emplace(page::Before{compared->before.package, compared->changes,
                                verdict != nullptr ? verdict->before : std::nullopt});
  }
  TRY_VOID(write_page(options, page::review_page({side.package, before ? &*before : nullptr,
                                                  judged ? &*judged : nullptr})));
  if (judged && !judged->outcome.ok()) {
    note(describe(package::refusal(judged->outcome, options.file)));
    return 1;
  }
  return 0;
}

Ran review_package(const ReviewOptions& options) {
  TRY_VOID(check_package_options(options));
  TRY(side, read_side(options.file));
  TRY(compared, read_before(options.previous, side));
  if (options.root.empty()) {
    return write_review(options, side, compared, nullptr);
  }
  TRY(verdict, judge(options, side, compared));
  return write_review(options, side, compared, &verdict);
}

const package::Package* package_of(const card::CardReport& report,
                                   const format::Allotment& allotment) {
  for (const card::CardPackage& each : report.packages) {
    if (each.package.manifest_digest == allotment.manifest) {
      return &each.package;
    }
  }
  return nullptr;
}

Try<void> check_card(const ReviewOptions& options, const card::CardReport& report) {
  if (!report.sound() && !report.touched()) {
    Error error =
        wrong_file("card-not-good", "this card is not good, so it gets no page", options.file,
                   "faults", "a good card", "cardseal card verify names them; make the card again");
    error.kind = ErrorKind::refused;
    return Unexpected(std::move(error));
  }
  if (report.allotments.empty()) {
    return Unexpected(wrong_file("card-allotments", "a sheet is for the work of one station",
                                 options.file, "0 allotments", "one allotment, and its package"));
  }
  return {};
}

std::string listed_jobs(const card::CardReport& report) {
  std::string out;
  for (std::size_t i = 0; i < report.allotments.size(); ++i) {
    const package::Package* package = package_of(report, report.allotments[i]);
    out += fmt::format("{}{} {}", i == 0 ? "" : ", ", i + 1,
                       package != nullptr ? package->manifest.title.view() : "?");
  }
  return out;
}

// Whose page it is; a card of one package needs no word for it.
Try<std::size_t> job_of(const ReviewOptions& options, const card::CardReport& report) {
  const std::size_t jobs = report.allotments.size();
  if (options.job ? *options.job <= jobs : jobs == 1) {
    return std::size_t{options.job.value_or(1) - 1};
  }
  return Unexpected(usage_error(
      options.job ? "the card has no such job" : "the card carries the work of several packages",
      options.job ? std::to_string(*options.job) : std::string("no --job"),
      fmt::format("--job, one of: {}", listed_jobs(report)),
      "each of them has a sheet of its own"));
}

// A card has its own trust list; that a company file names one does no harm.
Try<void> check_card_options(const ReviewOptions& options) {
  if (options.root.empty() || !options.previous.empty() || !options.withdrawals.empty()) {
    return Unexpected(usage_error("a card's page is made of a card that is good by a root",
                                  options.root.empty() ? "no --root" : "options for packages",
                                  "--root FILE, and neither --previous nor --withdrawal"));
  }
  if (options.label && !options.labels.empty()) {
    return Unexpected(usage_error("a page is one thing", "--label and --labels", "one of them"));
  }
  if (options.label && options.code == "none") {
    return Unexpected(
        usage_error("a card's label carries a code", "--code none", "data-matrix or qr"));
  }
  const bool about_labels = !options.units.empty() || !options.stock.empty() ||
                            !options.pitch.empty() || !options.corner.empty();
  if (options.labels.empty() && about_labels) {
    return Unexpected(usage_error("--units, --stock, --pitch and --corner are about labels",
                                  "no --labels", "--labels WIDTHxHEIGHT"));
  }
  return {};
}

std::optional<page::CodeKind> code_kind(const std::string& code) {
  if (code == "none") {
    return {};
  }
  return code == "qr" ? page::CodeKind::qr : page::CodeKind::data_matrix;
}

Try<std::uint64_t> to_size(const std::string& text, std::uint64_t least) {
  TRY(size, to_uint(text, "a label's size in mm", 200));
  if (size < least) {
    return Unexpected(
        usage_error("a label is too small", text + " mm", fmt::format("{} to 200 mm", least)));
  }
  return size;
}

// "40.6x21.2" in tenths of a millimetre.
Try<std::pair<std::uint64_t, std::uint64_t>> to_tenths(const std::string& text, const char* what) {
  constexpr std::uint64_t most = 5000;
  std::vector<std::uint64_t> out;
  for (const std::string& side : split(text, 'x')) {
    const std::size_t point = side.find('.');
    const std::string tenth = point == std::string::npos ? "0" : side.substr(point + 1);
    TRY(whole, to_uint(side.substr(0, point), what, most / 10));
    TRY(rest, to_uint(tenth.size() == 1 ? tenth : "?", what, 9));
    out.push_back(whole * 10 + rest);
  }
  if (out.size() != 2) {
    return Unexpected(usage_error(std::string(what) + " is not in its form", text,
                                  "two lengths in mm, at most one digit behind the point, like "
                                  "40.6x21.2"));
  }
  return std::pair{out[0], out[1]};
}

Try<std::optional<page::LabelStock>> to_stock(const ReviewOptions& options) {
  const std::size_t given = static_cast<std::size_t>(!options.stock.empty()) +
                            static_cast<std::size_t>(!options.pitch.empty()) +
                            static_cast<std::size_t>(!options.corner.empty());
  if (given == 0) {
    return std::optional<page::LabelStock>();
  }
  const std::vector<std::string> sides = split(options.stock, 'x');
  if (given != 3 || sides.size() != 2) {
    return Unexpected(usage_error("a stock of labels is not described in full", options.stock,
                                  "--stock COLUMNSxROWS with --pitch and --corner"));
  }
  page::LabelStock stock;
  TRY(columns, to_uint(sides[0], "columns of --stock", 50));
  TRY(rows, to_uint(sides[1], "rows of --stock", 100));
  TRY(pitch, to_tenths(options.pitch, "--pitch"));
  TRY(corner, to_tenths(options.corner, "--corner"));
  stock.columns = columns;
  stock.rows = rows;
  stock.pitch_x = pitch.first;
  stock.pitch_y = pitch.second;
  stock.left = corner.first;
  stock.top = corner.second;
  return std::optional<page::LabelStock>(stock);
}

Try<page::NumberLabels> to_labels(const ReviewOptions& options, std::uint64_t units) {
  page::NumberLabels out;
  const std::vector<std::string> sides = split(options.labels, 'x');
  if (sides.size() != 2) {
    return Unexpected(usage_error("the labels' size is not in its form", options.labels,
                                  "WIDTHxHEIGHT in mm, like 38x21"));
  }
  TRY(width, to_size(sides[0], 10));
  TRY(height, to_size(sides[1], 5));
  out.width_mm = width;
  out.height_mm = height;
  TRY(stock, to_stock(options));
  out.stock = stock;
  out.code = code_kind(options.code);
  out.last = units;
  if (!options.units.empty()) {
    const std::vector<std::string> ends = split(options.units, '-');
    TRY(first, to_uint(ends[0], "the first unit", units));
    TRY(last, to_uint(ends.back(), "the last unit", units));
    if (ends.size() != 2) {
      return Unexpected(usage_error("the units are no range", options.units, "FIRST-LAST"));
    }
    out.first = first;
    out.last = last;
  }
  return out;
}

Try<std::string> page_of_card(const ReviewOptions& options, const page::CardInput& input) {
  if (options.label) {
    return page::label_page(input, *code_kind(options.code));
  }
  if (options.labels.empty()) {
    return page::sheet_page(input);
  }
  TRY(labels, to_labels(options, input.allotment.count));
  return page::number_labels_page(input, labels);
}

Ran review_card(const ReviewOptions& options) {
  TRY_VOID(check_card_options(options));
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(file, io::ReadFile::open(io::real_system(), options.file));
  fat32::FileSource source(file);
  TRY(report, card::verify_card(source, root));
  TRY_VOID(check_card(options, report));
  TRY(job, job_of(options, report));
  const format::Allotment& allotment = report.allotments[job];
  const auto number = [](std::size_t count) { return static_cast<std::uint32_t>(count); };
  Try<std::string> html =
      page_of_card(options, {*package_of(report, allotment), allotment, *report.index,
                             options.model, number(job + 1), number(report.allotments.size())});
  if (!html) {
    html.error().place.file = html.error().kind == ErrorKind::usage ? "" : options.file;
    return Unexpected(std::move(html).error());
  }
  return write_page(options, *html);
}

} // namespace

Ran run_review(const ReviewOptions& options) {
  if (!options.work_order.empty()) {
    return run_review_set(options);
  }
  TRY(kind, kind_of(options.file));
  if (kind == FileKind::statement) {
    return review_statement(options);
  }
  if (!options.packages.empty() || !options.images.empty()) {
    return Unexpected(usage_error("--package and --image are about a work order", "no --work-order",
                                  "--work-order ID, and a register"));
  }
  switch (kind) {
  case FileKind::package:
    return review_package(options);
  case FileKind::card:
    return review_card(options);
  default:
    return Unexpected(usage_error("pages are made of packages, cards and what quality signed",
                                  options.file,
                                  "a release package, a card image, or a lot's first article, "
                                  "concession or closure"));
  }
}

} // namespace cardseal::tool
