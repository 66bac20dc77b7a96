// A run log that came back: from a card image, or as the file that somebody copied off the card.
// What is damaged is listed and the rest is read; layout in format/SPEC-station.md.
#pragma once

#include <string>
#include <vector>

#include "diag/error.h"
#include "format/run_log.h"
#include "io/file.h"

namespace cardseal::runlog {

inline constexpr const char* log_path = "CARDSEAL/LOG.CSV";

struct Line {
  std::uint32_t sector = 0; // of the log; 0 is its header
  format::LogRecord record;
};

struct LogFile {
  std::string file;
  format::CardId card{};
  std::vector<Line> lines; // in the order of their sectors; empty when only looked through
  std::uint64_t records = 0;
  // Sectors of what is wrong.
  std::vector<std::uint32_t> spoiled;  // neither record nor blank
  std::vector<std::uint32_t> broken;   // a record before this one is missing, or was changed
  std::vector<std::uint32_t> repeated; // a record that stands there twice
  std::uint32_t sectors = 0;           // that were read, blank ones too
  std::uint32_t missing_sectors = 0;   // at its end: the copy is shorter than the header says

  bool whole() const { return spoiled.empty() && broken.empty() && missing_sectors == 0; }
};

// As a log has a station's id, and words that operators enter.
std::string capitals(std::string text);

// Errors: those of reading; log-none (a card without a run log), log-header, and those of a volume
// that can't be read.
Try<LogFile> read_log(io::System& system, const std::string& file);

} // namespace cardseal::runlog
