#include "commands_trace.h"
#include "common.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "recall/recall.h"
#include "trace/trace.h"
#include "view/recall_json.h"

namespace cardseal::tool {
namespace {

using recall::Answer;
using recall::Given;
using recall::List;
using recall::Question;
using recall::Span;

Try<std::vector<package::Package>> read_packages(const std::vector<std::string>& files) {
  std::vector<package::Package> packages;
  for (const std::string& file : files) {
    TRY(package, package::read(io::real_system(), file));
    packages.push_back(std::move(package));
  }
  return packages;
}

Try<void> read_registers(const std::vector<std::string>& files, Question& question) {
  for (const std::string& file : files) {
    TRY(numbers, registry::Register::open(io::real_system(), file, std::nullopt));
    TRY(given, recall::given_by(numbers));
    std::move(given.begin(), given.end(), std::back_inserter(question.given));
  }
  return {};
}

Try<Question> ask(const RecallOptions& options, const std::vector<package::Package>& packages) {
  Question question;
  for (const std::string& text : options.where) {
    TRY(condition, recall::parse_condition(text));
    question.where.push_back(std::move(condition));
  }
  for (const package::Package& package : packages) {
    question.packages.push_back(&package);
  }
  TRY_VOID(read_registers(options.registers, question));
  for (const std::string& file : options.logs) {
    TRY(log, runlog::read_log(io::real_system(), file));
    question.logs.push_back(std::move(log));
  }
  return question;
}

// As the label reads; by its ordinal where no package of the scheme was given.
std::string name_of(const Question& question, const Given& given, std::uint64_t unit) {
  if (given.row.range.count == 0) {
    return fmt::format("board {}", unit + 1);
  }
  const std::uint64_t ordinal = given.row.range.first + unit;
  for (const package::Package* package : question.packages) {
    if (package->manifest_digest == given.row.manifest) {
      const trace::Unit found = trace::unit_of(*package, given.row, ordinal);
      return found.text.empty() ? std::to_string(found.number) : found.text;
    }
  }
  return fmt::format("ordinal {}", ordinal);
}

void print_list(const Question& question, const Answer& answer, List list) {
  const std::size_t index = static_cast<std::size_t>(list);
  say(fmt::format("{:<9} {} unit{}", recall::list_words[index], answer.units[index],
                  answer.units[index] == 1 ? "" : "s"));
  for (const Span& span : answer.spans) {
    if (span.list != list) {
      continue;
    }
    const Given& given = question.given[span.given];
    const std::string first = name_of(question, given, span.first);
    const std::string last = name_of(question, given, span.first + span.count - 1);
    say(fmt::format("  {}  {} unit{}, card {}, station {}, {}: {}",
                    escaped(span.count == 1 ? first : fmt::format("{} to {}", first, last)),
                    span.count, span.count == 1 ? "" : "s", crypto::hex(given.row.card),
                    escaped(given.row.station), escaped(given.row.work_order),
                    escaped(span.reason)));
  }
}

// A line a unit, in a form that a table program opens: list, unit, card, reason.
Try<void> write_units(const std::string& file, const Question& question, const Answer& answer) {
  std::string out = "list;unit;card;station;work order;reason\n";
  for (const Span& span : answer.spans) {
    const Given& given = question.given[span.given];
    for (std::uint64_t unit = span.first; unit < span.first + span.count; ++unit) {
      out += fmt::format("{};{};{};{};{};{}\n",
                         recall::list_words[static_cast<std::size_t>(span.list)],
                         name_of(question, given, unit), crypto::hex(given.row.card),
                         given.row.station, given.row.work_order, span.reason);
    }
  }
  return io::write_file(io::real_system(), file, bytes_of(out), io::IfExists::refuse);
}

} // namespace

Ran run_recall(const RecallOptions& options) {
  TRY(packages, read_packages(options.packages));
  TRY(question, ask(options, packages));
  const Answer answer = recall::recall(question);
  if (!options.units.empty()) {
    TRY_VOID(write_units(options.units, question, answer));
  }
  if (options.json) {
    say(view::json_of(question, answer));
    return 0;
  }
  say(fmt::format("where     {}", escaped(recall::spelled(question.where))));
  for (const List list : {List::affected, List::possibly, List::cleared}) {
    print_list(question, answer, list);
  }
  note("logs, and what operators entered, show accidents and not forgers; where it matters, read "
       "boards back: cardseal image --read-back");
  return 0;
}

} // namespace cardseal::tool
