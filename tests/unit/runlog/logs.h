// Run logs made in memory, as a station would leave them.
#pragma once

#include <fstream>
#include <string>
#include <vector>

#include "crypto/sha256.h"
#include "runlog/account.h"
#include "support/card_kit.h"
#include "support/temp_folder.h"

namespace cardseal::runlog {

struct Entry {
  std::uint32_t session = 1, cycle = 1;
  std::uint8_t slot = 1;
  std::uint64_t ordinal = 0;
  std::string outcome = "BEGUN";
  std::uint8_t tries = 1;
};

inline format::LogRecord record_of(const Entry& entry, bool serials = true) {
  format::LogRecord r;
  r.station = test::text<24>("ORCHARD-1");
  r.enrolment = 1;
  r.session = entry.session;
  r.cycle = entry.cycle;
  r.slot = entry.slot;
  if (serials) {
    r.ordinal.set(entry.ordinal);
  }
  r.outcome = test::text<24>(entry.outcome);
  r.tries = entry.tries;
  return r;
}

inline constexpr format::CardId card_one{0, 0, 0, 0, 0, 0, 0, 1};

// The bytes of a log with these records, chained as the format says, then `blank` blank sectors.
inline io::Bytes log_bytes(const std::vector<Entry>& entries, std::size_t blank = 4,
                           const format::CardId& card = card_one) {
  const std::size_t count = entries.size() + blank;
  io::Bytes out((count + 1) * format::log_sector);
  const auto sector = [&](std::size_t i) {
    return format::LogSector(out.data() + i * format::log_sector, format::log_sector);
  };
  format::render_log_header({card, static_cast<std::uint32_t>(count)}, sector(0));
  std::uint64_t chain = 0;
  for (std::size_t i = 0; i < count; ++i) {
    format::render_log_blank(sector(i + 1));
    if (i < entries.size()) {
      format::LogRecord r = record_of(entries[i]);
      format::render_log_record(r, sector(i + 1));
      io::Bytes message(8);
      store_be64(message.data(), chain);
      const ByteView covered = format::log_bytes_before_chain(sector(i + 1));
      message.insert(message.end(), covered.begin(), covered.end());
      r.chain = chain = load_be64(crypto::sha256(message).data());
      format::render_log_record(r, sector(i + 1));
    }
  }
  return out;
}

// A log as it is after reading.
inline LogFile log_of(const std::vector<Entry>& entries, const std::string& file = "log.csv",
                      const format::CardId& card = card_one) {
  LogFile log;
  log.file = file;
  log.card = card;
  for (const Entry& entry : entries) {
    log.lines.push_back({static_cast<std::uint32_t>(log.lines.size() + 1), record_of(entry)});
  }
  log.sectors = static_cast<std::uint32_t>(entries.size() + 20); // the rest are blank
  return log;
}

// An allotment of a register: ordinals 100 on.
inline registry::AllotmentRow row_of(std::uint64_t units, bool serials = true) {
  registry::AllotmentRow row;
  row.id = 7;
  row.card = card_one;
  row.station = "orchard-1";
  row.enrolment = 1;
  row.units = units;
  row.work_order = "WO-1";
  if (serials) {
    row.scheme = "fn";
    row.range = {100, units};
  }
  return row;
}

} // namespace cardseal::runlog
