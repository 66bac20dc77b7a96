#include "trace/trace.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "base/number.h"
#include "runlog/copies.h"
#include "unit/unit.h"

namespace cardseal::trace {
namespace {

struct Candidate { // a package's reading of the question
  const package::Package* package;
  std::uint64_t ordinal;
};

bool ordinal_in(const package::Package& package, const Question& question, std::uint64_t& ordinal) {
  if (!package.manifest.scheme.present) {
    return false;
  }
  const unit::Serials serials = unit::serials_of(package.manifest);
  if (question.ordinal) {
    std::uint64_t number = 0;
    ordinal = *question.ordinal;
    return unit::number_of(serials, ordinal, number).ok();
  }
  const std::optional<std::uint64_t> found = ordinal_of(package, question.serial);
  ordinal = found.value_or(0);
  return found.has_value();
}

// What of an allotment stands in texts.
format::Allotment stated_by(const registry::AllotmentRow& row) {
  format::Allotment out;
  for (std::size_t i = 0; i < format::work_class_words.size(); ++i) {
    if (format::work_class_words[i] == row.work_class) {
      out.work_class = static_cast<format::WorkClass>(i);
    }
  }
  format::Text<16> date_code;
  if (row.date_code && date_code.set(*row.date_code)) {
    out.date_code.set(date_code);
  }
  return out;
}

Unit unit_of(const package::Package& package, std::uint64_t ordinal,
             const format::Allotment* stated) {
  const unit::Serials serials = unit::serials_of(package.manifest, stated);
  Unit out;
  out.ordinal = ordinal;
  (void)unit::number_of(serials, ordinal, out.number); // it was found by the same scheme
  unit::UnitText text;
  if (!package.manifest.parts.view().empty() && unit::text_of(serials, ordinal, text).ok()) {
    out.text = text.view();
  }
  return out;
}

bool covers(const registry::Range& range, std::uint64_t ordinal) {
  return ordinal >= range.first && ordinal < range.past();
}

bool gave(const registry::AllotmentRow& row, const Candidate& candidate) {
  const format::Manifest& manifest = candidate.package->manifest;
  return row.scheme && *row.scheme == manifest.scheme.value.id.view() &&
         row.product == manifest.product.view() && row.unit_of(candidate.ordinal).has_value();
}

Try<Result> result_of(registry::Register& numbers, const registry::AllotmentRow& row,
                      std::uint64_t unit) {
  Try<std::optional<registry::UnitResult>> known = numbers.result_of(row.id, unit);
  if (!known) {
    return Unexpected(std::move(known).error());
  }
  if (!*known) {
    return Result::not_reported;
  }
  return (*known)->good ? Result::good : (*known)->begun ? Result::begun : Result::unused;
}

// The very package of the allotment; of two files of it the one that more people signed.
bool tells_more(const registry::AllotmentRow& row, const Candidate& one, const Candidate& other) {
  const bool is_it = one.package->manifest_digest == row.manifest;
  const bool other_is = other.package->manifest_digest == row.manifest;
  return is_it != other_is ? is_it : one.package->signoffs.size() > other.package->signoffs.size();
}

class Tracing {
public:
  Tracing(registry::Register& numbers, const Question& question)
      : numbers_(numbers), question_(question) {}

  void read(const std::vector<package::Package>& packages) {
    for (const package::Package& package : packages) {
      packages_.push_back(&package);
      std::uint64_t ordinal = 0;
      if (ordinal_in(package, question_, ordinal)) {
        candidates_.push_back({&package, ordinal});
      }
    }
    answer_.is_a_serial = !candidates_.empty();
  }

  Try<Answer> run() {
    std::map<std::uint64_t, registry::AllotmentRow> rows; // in the register's order
    for (const Candidate& candidate : candidates_) {
      const std::string_view scheme = candidate.package->manifest.scheme.value.id.view();
      Try<std::vector<registry::AllotmentRow>> some =
          numbers_.allotments_with(scheme, candidate.ordinal);
      if (!some) {
        return Unexpected(std::move(some).error());
      }
      for (registry::AllotmentRow& row : *some) {
        rows.emplace(row.id, std::move(row));
      }
    }
    Try<void> done;
    for (const auto& [id, row] : rows) {
      done = done ? look_at(row) : std::move(done);
    }
    done = done ? look_apart() : std::move(done);
    return done ? Try<Answer>(std::move(answer_)) : Unexpected(std::move(done).error());
  }

private:
  // Under the very package of the allotment where that was given, else as any of the scheme's reads
  // it: a scheme's texts are the same in all its packages, or the register had refused it.
  Try<void> look_at(const registry::AllotmentRow& row) {
    const Candidate* best = nullptr;
    for (const Candidate& candidate : candidates_) {
      if (gave(row, candidate) && (best == nullptr || tells_more(row, candidate, *best))) {
        best = &candidate;
      }
    }
    if (best == nullptr) {
      return {};
    }
    const format::Allotment stated = stated_by(row);
    Found found;
    found.unit = unit_of(*best->package, best->ordinal, &stated);
    if (best->package->manifest_digest == row.manifest) {
      found.package = best->package;
    }
    const std::uint64_t place = *row.unit_of(best->ordinal); // as gave() found
    Try<Result> result = result_of(numbers_, row, place);
    if (!result) {
      return Unexpected(std::move(result).error());
    }
    found.result = *result;
    Try<std::vector<registry::FateRow>> fates = numbers_.fates_of(row.card);
    if (!fates) {
      return Unexpected(std::move(fates).error());
    }
    found.fates = std::move(*fates);
    found.allotment = row;
    found.work = work_of(row, best->ordinal);
    if (Try<void> told = tell_lot(found, place); !told) {
      return told;
    }
    const bool same_label =
        question_.serial.empty() || found.unit.text.empty() || found.unit.text == question_.serial;
    (same_label ? answer_.found : answer_.other_label).push_back(std::move(found));
    return {};
  }

  // Two readings of one card have a record at one place.
  std::vector<format::LogRecord> work_of(const registry::AllotmentRow& row,
                                         std::uint64_t ordinal) const {
    std::map<std::uint32_t, format::LogRecord> records;
    for (const runlog::LogFile& log : question_.logs) {
      for (const runlog::Line& line : log.lines) {
        const format::LogRecord& record = line.record;
        const bool is_it = log.card == row.card && runlog::holds(row, line.sector) &&
                           record.enrolment == row.enrolment &&
                           record.station.view() == runlog::capitals(row.station) &&
                           record.ordinal.present && record.ordinal.value == ordinal;
        if (is_it) {
          records.emplace(line.sector, record);
        }
      }
    }
    std::vector<format::LogRecord> work;
    work.reserve(records.size());
    for (const auto& [sector, record] : records) {
      work.push_back(record);
    }
    return work;
  }

  // What people said of the unit, and quality of its lot.
  Try<void> tell_lot(Found& found, std::uint64_t place) {
    Try<std::vector<registry::Settlement>> settled = numbers_.settlements_of(found.allotment.id);
    if (!settled) {
      return Unexpected(std::move(settled).error());
    }
    for (registry::Settlement& one : *settled) {
      if (place >= one.units.first && place < one.units.past()) {
        found.settled = std::move(one);
      }
    }
    if (Try<void> told = tell_statements(found); !told) {
      return told;
    }
    if (Try<void> ordered = tell_order(found); !ordered) {
      return ordered;
    }
    const registry::UnitAt unit{found.allotment.id, place};
    Try<void> told = follow(unit, &registry::Register::number_before, found.before);
    return told ? follow(unit, &registry::Register::number_after, found.after) : told;
  }

  // A first article of the order that took this one in is one of that order's own boards.
  Try<void> tell_statements(Found& found) {
    const std::string& own = found.allotment.work_order;
    Try<std::vector<std::string>> orders = numbers_.wholes_of(own);
    if (!orders) {
      return Unexpected(std::move(orders).error());
    }
    for (const std::string& order : *orders) {
      Try<std::vector<registry::Statement>> all = numbers_.statements_of(order);
      if (!all) {
        return Unexpected(std::move(all).error());
      }
      std::copy_if(all->begin(), all->end(), std::back_inserter(found.statements),
                   [&](const registry::Statement& one) {
                     return order == own || one.kind != registry::StatementKind::first_article;
                   });
    }
    found.merged_into.assign(orders->begin() + 1, orders->end());
    return {};
  }

  Try<void> tell_order(Found& found) {
    const std::string& work_order = found.allotment.work_order;
    Try<std::optional<io::Bytes>> file = numbers_.order_file(work_order);
    Try<std::vector<std::pair<std::string, std::uint64_t>>> places =
        file ? numbers_.places_of(work_order) : Unexpected(file.error());
    if (!places || !*file) {
      return places ? Try<void>() : Unexpected(std::move(places).error());
    }
    xml::All<lot::Order> order = lot::parse_order(**file, work_order);
    if (!order) {
      return {}; // another version wrote it; the rest of the answer holds without
    }
    Ordered out;
    for (const auto& [place, lot] : *places) {
      out.place = lot == found.allotment.lot ? place : out.place;
    }
    for (const lot::OrderCard& card : order->cards) {
      out.line = card.place == out.place ? card.line : out.line;
    }
    out.reels = std::move(order->reels);
    out.silicon = std::move(order->silicon);
    found.ordered = std::move(out);
    return {};
  }

  // No number comes twice on this way: each leads to one that was settled later, or earlier.
  using Next =
      Try<std::optional<registry::UnitAt>> (registry::Register::*)(const registry::UnitAt&);
  Try<void> follow(registry::UnitAt unit, Next next, std::vector<OtherNumber>& out) {
    for (;;) {
      Try<std::optional<registry::UnitAt>> other = (numbers_.*next)(unit);
      if (!other || !*other) {
        return other ? Try<void>() : Unexpected(std::move(other).error());
      }
      unit = **other;
      Try<std::optional<registry::AllotmentRow>> row = numbers_.allotment_by_id(unit.allotment);
      if (!row || !*row) {
        return row ? Try<void>() : Unexpected(std::move(row).error());
      }
      std::string label = label_of(packages_, **row, unit.unit);
      out.push_back({std::move(**row), unit.unit, std::move(label)});
    }
  }

  Try<void> look_apart() {
    Try<std::vector<registry::RangeRow>> ranges = numbers_.ranges();
    if (!ranges) {
      return Unexpected(std::move(ranges).error());
    }
    for (const registry::RangeRow& range : *ranges) {
      const auto in =
          std::find_if(candidates_.begin(), candidates_.end(), [&](const Candidate& candidate) {
            return range.scheme == candidate.package->manifest.scheme.value.id.view() &&
                   covers(range.range, candidate.ordinal);
          });
      if (in != candidates_.end()) {
        answer_.apart.push_back({unit_of(*in->package, in->ordinal, nullptr), range});
      }
    }
    return {};
  }

  registry::Register& numbers_;
  const Question& question_;
  std::vector<const package::Package*> packages_;
  std::vector<Candidate> candidates_;
  Answer answer_;
};

} // namespace

std::optional<std::uint64_t> ordinal_of(const package::Package& package,
                                        const std::string& serial) {
  const format::Manifest& m = package.manifest;
  std::uint64_t ordinal = 0;
  std::uint64_t number = 0;
  const bool known = m.scheme.present &&
                     (m.parts.view().empty()
                          ? parse_uint(serial, number) &&
                                unit::ordinal_of_number(unit::serials_of(m), number, ordinal).ok()
                          : unit::ordinal_of_text(unit::serials_of(m), serial, ordinal).ok());
  return known ? std::optional(ordinal) : std::nullopt;
}

Unit unit_of(const package::Package& package, const registry::AllotmentRow& row,
             std::uint64_t ordinal) {
  const format::Allotment stated = stated_by(row);
  return unit_of(package, ordinal, &stated);
}

std::string label_of(const std::vector<const package::Package*>& packages,
                     const registry::AllotmentRow& row, std::uint64_t unit) {
  if (row.range.count == 0) {
    return fmt::format("board {}", unit + 1);
  }
  const std::uint64_t ordinal = row.ordinal_of(unit);
  for (const package::Package* package : packages) {
    if (package->manifest_digest == row.manifest) {
      const Unit found = unit_of(*package, row, ordinal);
      return found.text.empty() ? std::to_string(found.number) : found.text;
    }
  }
  return fmt::format("ordinal {}", ordinal);
}

Try<Answer> trace(registry::Register& numbers, const std::vector<package::Package>& packages,
                  const Question& question) {
  Tracing tracing(numbers, question);
  tracing.read(packages);
  return tracing.run();
}

} // namespace cardseal::trace
