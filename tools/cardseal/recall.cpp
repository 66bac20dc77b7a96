#include "commands_trace.h"
#include "common.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "given.h"
#include "lot_units.h"
#include "page/lot_pages.h"
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

Error given_twice(const std::string& file, const registry::AllotmentRow& row) {
  return usage_error("two registers hold one card: a register and its copy?",
                     fmt::format("card {} in {}", crypto::hex(row.card), file),
                     "each desk's register once, the newest of it");
}

Try<void> read_registers(const std::vector<std::string>& files, Question& question,
                         std::vector<std::string>& sources) {
  std::set<std::pair<format::CardId, std::uint64_t>> given_so_far; // a card, a job on it
  for (const std::string& file : files) {
    TRY(numbers, registry::Register::open(io::real_system(), file, std::nullopt));
    TRY(head, numbers.head());
    TRY(given, recall::given_by(numbers));
    sources.push_back(source_of(file, head));
    for (Given& each : given) {
      if (!given_so_far.insert({each.row.card, each.row.units_before}).second) {
        return Unexpected(given_twice(file, each.row));
      }
    }
    recall::add_given(question.given, std::move(given));
  }
  return {};
}

Error log_of_nobody(const runlog::LogFile& log) {
  return at(refused("card-unknown", "this log is of a card that no register given here made",
                    crypto::hex(log.card), "",
                    "name the register of the desk that made it: its units stand in no list else"),
            log.file);
}

Try<void> read_logs(const std::vector<std::string>& files, Question& question,
                    std::vector<std::string>& sources) {
  for (const std::string& file : files) {
    TRY(log, runlog::read_log(io::real_system(), file));
    if (std::none_of(question.given.begin(), question.given.end(),
                     [&](const Given& given) { return given.row.card == log.card; })) {
      return Unexpected(log_of_nobody(log));
    }
    sources.push_back(
        fmt::format("log {}, card {}, {} records", file, crypto::hex(log.card), log.lines.size()));
    question.logs.push_back(std::move(log));
  }
  return {};
}

Error nothing_has(const recall::Condition& condition) {
  return refused("recall-nothing", "no card in these registers has this value",
                 recall::spelled({condition}), "",
                 "look at its spelling (cardseal serial list), and name every desk's register");
}

struct Asked {
  Question question;
  std::vector<std::string> sources; // what the answer rests on
};

Try<Asked> ask(const RecallOptions& options, const std::vector<package::Package>& packages) {
  Asked asked;
  for (const std::string& text : options.where) {
    TRY(condition, recall::parse_condition(text));
    asked.question.where.push_back(std::move(condition));
  }
  TRY_VOID(read_registers(options.registers, asked.question, asked.sources));
  for (const package::Package& package : packages) {
    asked.question.packages.push_back(&package);
    asked.sources.push_back(source_of(package));
  }
  TRY_VOID(read_logs(options.logs, asked.question, asked.sources));
  for (const recall::Condition& condition : asked.question.where) {
    if (recall::is_of_nothing(asked.question.given, condition)) {
      return Unexpected(nothing_has(condition));
    }
  }
  return asked;
}

void print_list(const Question& question, const Answer& answer, List list) {
  const std::size_t index = static_cast<std::size_t>(list);
  const std::uint64_t twice = answer.told_twice[index];
  say(fmt::format("{:<9} {} unit{}{}", recall::list_words[index], answer.units[index],
                  answer.units[index] == 1 ? "" : "s",
                  twice == 0 ? "" : fmt::format(", {} of boards that are told already", twice)));
  for (const Span& span : answer.spans) {
    if (span.list != list) {
      continue;
    }
    const Given& given = question.given[span.given];
    const std::string first = trace::label_of(question.packages, given.row, span.first);
    const std::string last =
        trace::label_of(question.packages, given.row, span.first + span.count - 1);
    say(fmt::format("  {}  {} unit{}, card {}, station {}, {}: {}",
                    escaped(span.count == 1 ? first : fmt::format("{} to {}", first, last)),
                    span.count, span.count == 1 ? "" : "s", crypto::hex(given.row.card),
                    escaped(given.row.station), escaped(given.row.work_order),
                    escaped(span.reason)));
  }
}

// Quoted, and nothing that a table program would take for a formula.
std::string cell(std::string_view text) {
  std::string out = "\"";
  if (!text.empty() && std::string_view("=+-@").find(text.front()) != std::string_view::npos) {
    out += '\'';
  }
  for (const char c : text) {
    out += c;
    out += c == '"' ? "\"" : "";
  }
  return out + '"';
}

// A line a unit; before them the question and what the answer rests on.
Try<void> write_units(const std::string& file, const Asked& asked, const Answer& answer) {
  const Question& question = asked.question;
  std::string out = fmt::format("{};{}\n", cell("where"), cell(recall::spelled(question.where)));
  for (const std::string& source : asked.sources) {
    out += fmt::format("{};{}\n", cell("from"), cell(source));
  }
  out += "\"list\";\"unit\";\"card\";\"station\";\"work order\";\"reason\"\n";
  for (const Span& span : answer.spans) {
    const Given& given = question.given[span.given];
    for (std::uint64_t unit = span.first; unit < span.first + span.count; ++unit) {
      out += fmt::format("{};{};{};{};{};{}\n",
                         cell(recall::list_words[static_cast<std::size_t>(span.list)]),
                         cell(trace::label_of(question.packages, given.row, unit)),
                         cell(crypto::hex(given.row.card)), cell(given.row.station),
                         cell(given.row.work_order), cell(span.reason));
    }
  }
  return io::write_file(io::real_system(), file, bytes_of(out), io::IfExists::refuse);
}

} // namespace

Ran run_recall(const RecallOptions& options) {
  if (options.json && options.output == "-") {
    return Unexpected(usage_error("standard output takes one thing", "--json and -o -", "one"));
  }
  TRY(packages, read_whole_packages(options.packages));
  TRY(asked, ask(options, packages));
  const Question& question = asked.question;
  const Answer answer = recall::recall(question);
  if (!options.output.empty()) {
    const std::string html = page::recall_page({question, answer, asked.sources});
    TRY_VOID(io::write_file(io::real_system(), options.output, bytes_of(html),
                            if_exists(options.force)));
  }
  if (!options.units.empty()) {
    TRY_VOID(write_units(options.units, asked, answer));
  }
  if (options.json) {
    say(view::json_of(question, answer, asked.sources));
  }
  if (options.json || options.output == "-") {
    return 0;
  }
  say(fmt::format("where     {}", escaped(recall::spelled(question.where))));
  for (const std::string& source : asked.sources) {
    say(fmt::format("from      {}", escaped(source)));
  }
  for (const List list : {List::affected, List::possibly, List::cleared}) {
    print_list(question, answer, list);
  }
  note("logs, and what operators entered, show accidents and not forgers; where it matters, read "
       "boards back: cardseal image --read-back");
  return 0;
}

} // namespace cardseal::tool
