// The sectors of a run log one after the other, for whoever takes their records: what needs no
// memory of earlier records is judged here. Inside this module.
#pragma once

#include "runlog/log_file.h"

namespace cardseal::runlog {

class LogTaker {
public:
  enum class Taken : std::uint8_t { once, repeated, stop }; // stop: no more of this log is wanted

  virtual ~LogTaker() = default;
  virtual Taken take(const Line& line) = 0;
};

// The log without its `lines`. Nothing: the taker stopped. Errors as read_log.
Try<std::optional<LogFile>> scan_log(io::System& system, const std::string& file, LogTaker& taker);

// Of which card; from the header alone.
Try<format::CardId> card_of_log(io::System& system, const std::string& file);

} // namespace cardseal::runlog
