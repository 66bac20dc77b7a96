#include "label/scan.h"

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>

#include "base/number.h"
#include "crypto/sha256.h"
#include "io/file.h"
#include "runlog/copies.h"
#include "trace/trace.h"

namespace cardseal::label {
namespace {

using registry::LabelFate;

constexpr std::size_t most_bytes = 64U << 20U;

Error scan_form(const io::Path& file, std::uint32_t line, std::string found, std::string expected) {
  return at(error_of(ErrorKind::bad_data, "scan-form", "this line is not as a scan has it",
                     std::move(found), std::move(expected),
                     "the header cycle,slot,label, then a line for each label"),
            file.string(), line);
}

// RFC 4180, section 2; a field in quotes may hold line ends.
class Csv {
public:
  Csv(std::string_view text, const io::Path& file) : text_(text), file_(file) {}

  bool done() const { return at_ == text_.size(); }
  std::uint32_t line() const { return line_; }

  Try<std::vector<std::string>> record() {
    std::vector<std::string> fields;
    const std::uint32_t first = line_;
    for (;;) {
      std::string field;
      if (!(peek() == '"' ? quoted(field) : plain(field))) {
        return Unexpected(scan_form(file_, first, "a quote in the middle of a field",
                                    "a field that is quoted as a whole, or not at all"));
      }
      fields.push_back(std::move(field));
      if (peek() == ',') {
        ++at_;
        continue;
      }
      at_ += peek() == '\r' ? 1U : 0U;
      if (!done() && text_[at_] != '\n') {
        return Unexpected(scan_form(file_, first, "a quote or carriage return inside a line",
                                    "a line end after the last field"));
      }
      at_ += done() ? 0U : 1U;
      ++line_;
      return fields;
    }
  }

private:
  char peek() const { return done() ? '\0' : text_[at_]; }

  bool plain(std::string& out) {
    while (!done() && peek() != ',' && peek() != '\n' && peek() != '\r') {
      if (peek() == '"') {
        return false;
      }
      out += text_[at_++];
    }
    return true;
  }

  bool quoted(std::string& out) {
    for (++at_; !done(); ++at_) {
      if (peek() == '"') {
        if (at_ + 1 == text_.size() || text_[at_ + 1] != '"') {
          ++at_;
          return true;
        }
        ++at_;
      }
      line_ += peek() == '\n' ? 1U : 0U;
      out += peek();
    }
    return false; // it never ended
  }

  std::string_view text_;
  const io::Path& file_;
  std::size_t at_ = 0;
  std::uint32_t line_ = 1;
};

std::string words(const Spot& spot) {
  return fmt::format("cycle {}, slot {}", spot.cycle, spot.slot);
}

// Where each unit really was, as the logs have it.
std::map<std::uint64_t, Spot> spots_of(const registry::AllotmentRow& row,
                                       const std::vector<runlog::LogFile>& logs) {
  struct Begun {
    std::pair<std::uint32_t, std::uint32_t> cycle; // session, cycle in it
    std::uint8_t slot;
  };
  std::map<std::uint64_t, Begun> begun;
  std::set<std::pair<std::uint32_t, std::uint32_t>> cycles;
  const std::string station = runlog::capitals(row.station);
  for (const runlog::LogFile& log : logs) {
    for (const runlog::Line& line : log.lines) {
      const format::LogRecord& r = line.record;
      const bool own = runlog::holds(row, line.sector) && r.enrolment == row.enrolment &&
                       r.station.view() == station && r.ordinal.present &&
                       r.ordinal.value >= row.range.first && r.ordinal.value < row.range.past();
      if (own) {
        begun[r.ordinal.value - row.range.first] = {{r.session, r.cycle}, r.slot};
        cycles.insert({r.session, r.cycle});
      }
    }
  }
  std::map<std::uint64_t, Spot> spots;
  for (const auto& [unit, where] : begun) {
    const auto before = std::distance(cycles.begin(), cycles.find(where.cycle));
    spots[unit] = {static_cast<std::uint64_t>(before) + 1, where.slot};
  }
  return spots;
}

class Judging {
public:
  Judging(registry::Register& numbers, const Loading& in) : numbers_(numbers), in_(in) {
    if (!in.logs.empty()) {
      spots_ = spots_of(in.row, in.logs);
    }
    for (std::uint64_t unit = 0; unit < in.row.units; ++unit) {
      if (const std::optional<Spot> spot = spot_of(unit)) {
        units_[*spot] = unit;
      }
    }
  }

  Try<Loaded> run() {
    for (const ScanRow& row : in_.rows) {
      if (Try<void> done = look_at(row); !done) {
        return Unexpected(std::move(done).error());
      }
    }
    look_for_missing();
    Loaded out{std::move(errors_), {}, in_.rows.size()};
    out.applied = ranges_where(in_.row.units, [&](std::uint64_t unit) {
      return seen_.count(unit) != 0 && in_.states[unit] == LabelFate::printed;
    });
    return out;
  }

private:
  void wrong(const char* code, std::uint32_t line, std::string what, std::string found,
             std::string expected, std::string hint) {
    errors_.push_back(
        at(refused(code, std::move(what), std::move(found), std::move(expected), std::move(hint)),
           in_.file, line));
  }

  std::optional<Spot> spot_of(std::uint64_t unit) const {
    if (in_.logs.empty()) {
      return planned_spot(in_.row, unit);
    }
    const auto found = spots_.find(unit);
    return found == spots_.end() ? std::nullopt : std::optional(found->second);
  }

  std::string label_of(std::uint64_t unit) const {
    return trace::label_of({&in_.package}, in_.row, unit);
  }

  // What belongs there.
  std::string expected_at(const Spot& spot) const {
    const auto unit = units_.find(spot);
    return unit == units_.end() ? fmt::format("no label for {}", words(spot))
                                : fmt::format("{} for {}", label_of(unit->second), words(spot));
  }

  std::optional<Spot> read_spot(const ScanRow& row) {
    std::uint64_t cycle = 0;
    std::uint64_t slot = 0;
    const bool form = parse_uint(row.cycle, cycle) && parse_uint(row.slot, slot) && cycle >= 1 &&
                      slot >= 1 && slot <= 32;
    if (!form || (in_.row.enabled_slots >> (slot - 1) & 1U) == 0) {
      wrong("label-number", row.line,
            form ? "this slot is not enabled on the card" : "this is no cycle and slot",
            fmt::format("cycle {}, slot {}", row.cycle, row.slot),
            "cycles from 1 on, and a slot that the card enables",
            "look at which station and card this scan is of");
      return std::nullopt;
    }
    const Spot spot{cycle, static_cast<unsigned>(slot)};
    const auto [before, fresh] = lines_of_spots_.emplace(spot, row.line);
    if (!fresh) {
      wrong("label-spot-twice", row.line, "two labels were scanned for one slot of one cycle",
            fmt::format("{}, as in line {}", words(spot), before->second), "each once",
            "look at which of the two is on the board");
      return std::nullopt;
    }
    return spot;
  }

  Try<void> look_at(const ScanRow& row) {
    const std::optional<Spot> spot = read_spot(row);
    if (!spot) {
      return {};
    }
    const std::optional<std::uint64_t> ordinal = trace::ordinal_of(in_.package, row.label);
    if (!ordinal) {
      wrong("label-unreadable", row.line, "this label could not be read as a serial", row.label,
            expected_at(*spot),
            "scan it again; one that is damaged: cardseal label scrap, and export it anew");
      return {};
    }
    if (*ordinal < in_.row.range.first || *ordinal >= in_.row.range.past()) {
      return another_card(row, *spot, *ordinal);
    }
    const std::uint64_t unit = *ordinal - in_.row.range.first;
    if (const std::string own = label_of(unit); own != row.label) {
      wrong("label-text", row.line, "this label reads otherwise than that number's", row.label, own,
            "look at date code and class: it was printed for something else");
      return {};
    }
    look_at_unit(row, *spot, unit);
    return {};
  }

  Try<void> another_card(const ScanRow& row, const Spot& spot, std::uint64_t ordinal) {
    Try<std::vector<registry::AllotmentRow>> rows =
        numbers_.allotments_with(in_.package.manifest.scheme.value.id.view(), ordinal);
    if (!rows) {
      return Unexpected(std::move(rows).error());
    }
    wrong("label-card", row.line, "this label is of another card",
          rows->empty() ? fmt::format("{}, of no card of this register", row.label)
                        : fmt::format("{}, of card {}", row.label, crypto::hex(rows->front().card)),
          expected_at(spot), "take the board out, and look which labels lie at that station");
    return {};
  }

  void look_at_unit(const ScanRow& row, const Spot& spot, std::uint64_t unit) {
    const auto [before, fresh] = seen_.emplace(unit, row.line);
    if (!fresh) {
      wrong("label-twice", row.line, "one label was scanned twice",
            fmt::format("{}, as in line {}", row.label, before->second), expected_at(spot),
            "look for the board that has another label on it");
      return;
    }
    const std::optional<LabelFate>& state = in_.states[unit];
    if (!state || *state == LabelFate::scrapped) {
      wrong(state ? "label-scrapped" : "label-not-exported", row.line,
            state ? "this label was scrapped" : "this label was never exported for printing",
            row.label, expected_at(spot),
            state ? "take it off, and export it anew: cardseal label export"
                  : "look where it comes from: a second one of it may be about");
      return;
    }
    const std::optional<Spot> right = spot_of(unit);
    if (!right) {
      wrong("label-not-begun", row.line, "the log has no board of this label", row.label,
            expected_at(spot), "read the card's newest log, or look at the board");
    } else if (*right != spot) {
      wrong("label-slot", row.line, "this label belongs elsewhere",
            fmt::format("{} at {}", row.label, words(spot)),
            fmt::format("{} at {}", row.label, words(*right)),
            in_.logs.empty() ? "where a slot stayed empty all later numbers move: give the card's "
                               "log with --log, which knows them; else look for exchanged boards"
                             : "boards or labels were exchanged: look at both before they go on");
    }
  }

  // Of the cycles that were scanned.
  void look_for_missing() {
    std::set<std::uint64_t> cycles;
    for (const auto& [spot, line] : lines_of_spots_) {
      cycles.insert(spot.cycle);
    }
    for (const auto& [spot, unit] : units_) {
      const bool due = cycles.count(spot.cycle) != 0 && in_.states[unit] == LabelFate::printed;
      if (due && seen_.count(unit) == 0) {
        wrong("label-missing", 0, "a label of a scanned cycle is missing", "nothing",
              expected_at(spot),
              "scan it; one that is gone or damaged: cardseal label scrap, and export it anew");
      }
    }
  }

  registry::Register& numbers_;
  const Loading& in_;
  std::map<std::uint64_t, Spot> spots_; // with logs
  std::map<Spot, std::uint64_t> units_; // by where each belongs
  std::map<Spot, std::uint32_t> lines_of_spots_;
  std::map<std::uint64_t, std::uint32_t> seen_; // units, by line
  std::vector<Error> errors_;
};

} // namespace

Try<std::vector<ScanRow>> read_scan(io::System& system, const io::Path& file) {
  Try<io::Bytes> bytes = io::read_file(system, file, most_bytes);
  if (!bytes) {
    return Unexpected(std::move(bytes).error());
  }
  std::string_view text = text_of(ByteView(*bytes));
  if (text.starts_with("\xEF\xBB\xBF")) { // what spreadsheets put before it
    text.remove_prefix(3);
  }
  Csv csv(text, file);
  std::vector<ScanRow> rows;
  bool header = true;
  while (!csv.done()) {
    const std::uint32_t line = csv.line();
    Try<std::vector<std::string>> fields = csv.record();
    if (!fields) {
      return Unexpected(std::move(fields).error());
    }
    if (header && *fields != std::vector<std::string>{"cycle", "slot", "label"}) {
      return Unexpected(
          scan_form(file, line, fmt::format("{}", fmt::join(*fields, ",")), "cycle,slot,label"));
    }
    if (fields->size() != 3) {
      return Unexpected(
          scan_form(file, line, fmt::format("{} fields", fields->size()), "3 fields"));
    }
    if (!header) {
      rows.push_back(
          {line, std::move((*fields)[0]), std::move((*fields)[1]), std::move((*fields)[2])});
    }
    header = false;
  }
  if (rows.empty()) {
    return Unexpected(scan_form(file, csv.line(), "no label", "at least one"));
  }
  return rows;
}

Try<void> check_logs(const registry::AllotmentRow& row, const std::vector<runlog::LogFile>& logs) {
  for (const runlog::LogFile& log : logs) {
    if (log.card != row.card) {
      return Unexpected(
          at(refused("log-other", "this log is of another card", crypto::hex(log.card),
                     crypto::hex(row.card), "name a log of the card that was scanned"),
             log.file));
    }
    if (!log.whole()) {
      return Unexpected(at(refused("log-gaps", "this log has gaps, so its cycles can't be counted",
                                   "missing or spoiled records", "a whole log",
                                   "cardseal reconcile says what is missing; read the card again"),
                           log.file));
    }
  }
  return {};
}

Try<Loaded> judge(registry::Register& numbers, const Loading& loading) {
  return Judging(numbers, loading).run();
}

} // namespace cardseal::label
