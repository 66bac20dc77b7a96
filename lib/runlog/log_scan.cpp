#include "runlog/log_scan.h"

#include <algorithm>
#include <functional>

#include <fmt/format.h>

#include "base/bytes.h"
#include "crypto/sha256.h"
#include "fat32/reader.h"

namespace cardseal::runlog {
namespace {

constexpr std::size_t sectors_at_once = 2048;
constexpr std::string_view start_of_log = "CARDSEAL-LOG,";

using ReadSectors = std::function<Try<void>(std::uint64_t first, ByteSpan out)>;

Error log_error(const std::string& file, const char* code, std::string what, std::string hint) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = code;
  error.what = std::move(what);
  error.place.file = file;
  error.hint = std::move(hint);
  return error;
}

std::uint64_t chain_after(std::uint64_t before, ByteView record) {
  std::array<std::uint8_t, 8> previous{};
  store_be64(previous.data(), before);
  crypto::Sha256 hash;
  hash.update(previous);
  hash.update(record);
  return load_be64(hash.finish().data());
}

bool is_blank(format::LogSectorView bytes) {
  static const std::array<std::uint8_t, format::log_sector> blank = [] {
    std::array<std::uint8_t, format::log_sector> out{};
    format::render_log_blank(out);
    return out;
  }();
  return equal(bytes, blank);
}

// Judges one sector after the other.
class Scan {
public:
  Scan(LogFile& log, LogTaker& taker) : log_(log), taker_(taker) {}

  bool take(std::uint32_t sector, format::LogSectorView bytes) { // false: the taker stopped
    if (is_blank(bytes)) {
      return true;
    }
    line_.sector = sector;
    line_.record = {};
    if (!format::parse_log_record(bytes, line_.record).ok()) {
      log_.spoiled.push_back(sector);
      return true;
    }
    const LogTaker::Taken taken = taker_.take(line_);
    if (taken == LogTaker::Taken::repeated) {
      log_.repeated.push_back(sector);
    } else if (taken == LogTaker::Taken::once) {
      check_chain(sector, line_.record, format::log_bytes_before_chain(bytes));
      ++log_.records;
    }
    return taken != LogTaker::Taken::stop;
  }

private:
  struct Chain {
    format::LogWord station;
    std::uint32_t enrolment = 0;
    std::uint64_t last = 0;
  };

  // A station whose note was lost, or that worked with another card meanwhile, begins anew.
  void check_chain(std::uint32_t sector, const format::LogRecord& r, ByteView bytes) {
    auto at = std::find_if(chains_.begin(), chains_.end(), [&](const Chain& one) {
      return one.enrolment == r.enrolment && one.station.view() == r.station.view();
    });
    if (at == chains_.end()) {
      at = chains_.insert(at, {r.station, r.enrolment, 0});
    }
    if (r.chain != chain_after(at->last, bytes) && r.chain != chain_after(0, bytes)) {
      log_.broken.push_back(sector);
    }
    at->last = r.chain;
  }

  LogFile& log_;
  LogTaker& taker_;
  Line line_;
  std::vector<Chain> chains_; // one a station
};

format::LogSectorView sector_at(const io::Bytes& bytes, std::size_t index) {
  return format::LogSectorView(bytes.data() + index * format::log_sector, format::log_sector);
}

struct Opened { // a log whose header was read
  LogFile log;
  ReadSectors read;
};

Try<Opened> open_log(const std::string& file, std::uint64_t size, ReadSectors read) {
  Opened out{{}, std::move(read)};
  out.log.file = file;
  io::Bytes bytes(format::log_sector);
  format::LogHeader header;
  if (size < bytes.size()) {
    return Unexpected(log_error(file, "log-header", "the run log has no header",
                                "read the card again, or take its image"));
  }
  if (auto done = out.read(0, bytes); !done) {
    return Unexpected(done.error());
  }
  if (!format::parse_log_header(sector_at(bytes, 0), header).ok()) {
    return Unexpected(log_error(file, "log-header", "the run log's header is damaged or changed",
                                "copy LOG.CSV off the card as it is; a file that a spreadsheet "
                                "saved is another one"));
  }
  const std::uint64_t there = size / format::log_sector - 1;
  if (there > header.record_sectors) {
    Error error = log_error(file, "log-header", "the run log is longer than its header says",
                            "copy LOG.CSV off the card as it is");
    error.found = fmt::format("{} sectors behind the header", there);
    error.expected = std::to_string(header.record_sectors);
    return Unexpected(std::move(error));
  }
  out.log.card = header.card;
  out.log.sectors = static_cast<std::uint32_t>(there);
  out.log.missing_sectors = header.record_sectors - out.log.sectors;
  return out;
}

Try<std::optional<LogFile>> take_log(Opened opened, LogTaker& taker) {
  LogFile& log = opened.log;
  Scan scan(log, taker);
  io::Bytes bytes;
  for (std::uint32_t at = 0; at < log.sectors; at += sectors_at_once) {
    const std::size_t now = std::min<std::size_t>(sectors_at_once, log.sectors - at);
    bytes.resize(now * format::log_sector);
    if (auto done = opened.read(std::uint64_t{at} + 1, bytes); !done) {
      return Unexpected(done.error());
    }
    for (std::size_t i = 0; i < now; ++i) {
      if (!scan.take(at + 1 + static_cast<std::uint32_t>(i), sector_at(bytes, i))) {
        return std::optional<LogFile>();
      }
    }
  }
  return std::optional<LogFile>(std::move(log));
}

// Calls `use` with the log of an image or a file, while that is open.
template <class Use>
auto with_image(const io::ReadFile& opened, const std::string& file, Use use)
    -> decltype(use(std::declval<Opened>())) {
  fat32::FileSource source(opened);
  auto volume = fat32::Volume::open(source);
  if (!volume) {
    return Unexpected(std::move(volume).error());
  }
  const fat32::Entry* entry = volume->find(log_path);
  if (entry == nullptr || entry->folder) {
    return Unexpected(log_error(file, "log-none", "there is no run log on this card",
                                "results of a station that writes none come back as a hand tally, "
                                "see --tally"));
  }
  auto log = open_log(file, entry->size, [&](std::uint64_t first, ByteSpan out) {
    return volume->read(*entry, first * format::log_sector, out);
  });
  return log ? use(std::move(*log)) : Unexpected(std::move(log).error());
}

template <class Use>
auto with_log(io::System& system, const std::string& file, Use use)
    -> decltype(use(std::declval<Opened>())) {
  auto opened = io::ReadFile::open(system, file);
  if (!opened) {
    return Unexpected(std::move(opened).error());
  }
  io::Bytes start(start_of_log.size());
  if (opened->size() >= start.size()) {
    if (auto done = opened->read_at(0, start); !done) {
      return Unexpected(done.error());
    }
  }
  if (text_of(start) != start_of_log) {
    return with_image(*opened, file, use);
  }
  auto log = open_log(file, opened->size(), [&](std::uint64_t first, ByteSpan out) {
    return opened->read_at(first * format::log_sector, out);
  });
  return log ? use(std::move(*log)) : Unexpected(std::move(log).error());
}

} // namespace

Try<std::optional<LogFile>> scan_log(io::System& system, const std::string& file, LogTaker& taker) {
  return with_log(system, file, [&](Opened log) { return take_log(std::move(log), taker); });
}

Try<format::CardId> card_of_log(io::System& system, const std::string& file) {
  return with_log(system, file,
                  [](const Opened& log) { return Try<format::CardId>(log.log.card); });
}

} // namespace cardseal::runlog
