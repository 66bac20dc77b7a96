// Labels that were scanned when boards were put in: cycle, slot and label of each, held against
// what was exported for that card, or against the run log, which knows the slot of every number.
#pragma once

#include <string>
#include <vector>

#include "io/system.h"
#include "label/plan.h"
#include "register/register.h"
#include "runlog/log_file.h"

namespace cardseal::label {

struct ScanRow {
  std::uint32_t line = 1;
  std::string cycle;
  std::string slot;
  std::string label;
};

// A CSV file as RFC 4180 has it, line ends with or without CR: the header `cycle,slot,label`, then
// rows in any order. Errors: scan-form with the line, and those of reading.
Try<std::vector<ScanRow>> read_scan(io::System& system, const io::Path& file);

struct Loading {
  const package::Package& package;
  const registry::AllotmentRow& row;   // of that package, with numbers
  const registry::LabelStates& states; // of all its labels, before
  std::string file;                    // for messages
  std::vector<ScanRow> rows;
  std::vector<runlog::LogFile> logs; // of its card; none: the plan is what counts
};

struct Loaded {
  std::vector<Error> errors;            // by line; empty: all of it fits
  std::vector<registry::Range> applied; // that were not before
  std::uint64_t rows = 0;
};

// Errors' codes: label-number (cycle or slot is none), label-unreadable, label-card (of another
// card), label-text (date code or class differ), label-twice, label-spot-twice, label-not-exported,
// label-scrapped, label-slot (it belongs elsewhere), label-not-begun (the log has no such unit),
// label-missing (of a cycle that was scanned). `numbers` tells whose label it is.
Try<Loaded> judge(registry::Register& numbers, const Loading& loading);

// Whether all of these logs are whole, of the row's card and of a card with numbers: only then they
// tell which slot had which number (log-other, log-gaps).
Try<void> check_logs(const registry::AllotmentRow& row, const std::vector<runlog::LogFile>& logs);

} // namespace cardseal::label
