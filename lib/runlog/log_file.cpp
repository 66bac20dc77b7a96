#include "runlog/log_file.h"

#include <set>
#include <tuple>

#include "runlog/log_scan.h"

namespace cardseal::runlog {
namespace {

// Keeps every record, each once.
class Keeper final : public LogTaker {
public:
  std::vector<Line> lines;

  Taken take(const Line& line) override {
    const format::LogRecord& r = line.record;
    const std::uint64_t ordinal = r.ordinal.present ? r.ordinal.value + 1 : 0;
    if (!seen_
             .insert({std::string(r.station.view()), r.enrolment, r.session, r.cycle, r.slot,
                      r.tries, std::string(r.outcome.view()), ordinal})
             .second) {
      return Taken::repeated;
    }
    lines.push_back(line);
    return Taken::once;
  }

private:
  std::set<std::tuple<std::string, std::uint32_t, std::uint32_t, std::uint32_t, std::uint8_t,
                      std::uint8_t, std::string, std::uint64_t>>
      seen_;
};

} // namespace

std::string capitals(std::string text) {
  for (char& c : text) {
    c = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  }
  return text;
}

Try<LogFile> read_log(io::System& system, const std::string& file) {
  Keeper keeper;
  auto log = scan_log(system, file, keeper);
  if (!log) {
    return Unexpected(std::move(log).error());
  }
  LogFile out = std::move(**log); // a keeper never stops
  out.lines = std::move(keeper.lines);
  return out;
}

} // namespace cardseal::runlog
