#include "runlog/log_file.h"

#include <algorithm>
#include <functional>
#include <map>
#include <set>
#include <tuple>

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

class Taker {
public:
  explicit Taker(LogFile& log) : log_(log) {}

  void take(std::uint32_t sector, format::LogSectorView bytes) {
    const format::LogSectorKind kind = format::log_sector_kind(bytes);
    if (kind == format::LogSectorKind::blank) {
      return;
    }
    Line line{sector, {}};
    if (kind != format::LogSectorKind::record ||
        !format::parse_log_record(bytes, line.record).ok()) {
      log_.spoiled.push_back(sector);
      return;
    }
    const format::LogRecord& r = line.record;
    const std::string station(r.station.view());
    const std::uint64_t ordinal = r.ordinal.present ? r.ordinal.value + 1 : 0;
    if (!seen_
             .insert({station, r.enrolment, r.session, r.cycle, r.slot, r.tries,
                      std::string(r.outcome.view()), ordinal})
             .second) {
      log_.repeated.push_back(sector);
      return;
    }
    check_chain(sector, r, format::log_bytes_before_chain(bytes));
    log_.lines.push_back(line);
  }

private:
  // A station whose note was lost, or that worked with another card meanwhile, begins anew.
  void check_chain(std::uint32_t sector, const format::LogRecord& r, ByteView bytes) {
    std::uint64_t& last = chains_[{std::string(r.station.view()), r.enrolment}];
    if (r.chain != chain_after(last, bytes) && r.chain != chain_after(0, bytes)) {
      log_.broken.push_back(sector);
    }
    last = r.chain;
  }

  LogFile& log_;
  std::map<std::pair<std::string, std::uint32_t>, std::uint64_t> chains_;
  std::set<std::tuple<std::string, std::uint32_t, std::uint32_t, std::uint32_t, std::uint8_t,
                      std::uint8_t, std::string, std::uint64_t>>
      seen_;
};

format::LogSectorView sector_at(const io::Bytes& bytes, std::size_t index) {
  return format::LogSectorView(bytes.data() + index * format::log_sector, format::log_sector);
}

Try<LogFile> take_log(const std::string& file, std::uint64_t size, const ReadSectors& read) {
  LogFile log;
  log.file = file;
  io::Bytes bytes(format::log_sector);
  format::LogHeader header;
  if (size < bytes.size()) {
    return Unexpected(log_error(file, "log-header", "the run log has no header",
                                "read the card again, or take its image"));
  }
  if (auto done = read(0, bytes); !done) {
    return Unexpected(done.error());
  }
  if (!format::parse_log_header(sector_at(bytes, 0), header).ok()) {
    return Unexpected(log_error(file, "log-header", "the run log's header is damaged or changed",
                                "copy LOG.CSV off the card as it is; a file that a spreadsheet "
                                "saved is another one"));
  }
  log.card = header.card;
  const std::uint64_t there = size / format::log_sector - 1;
  if (there > header.record_sectors) {
    Error error = log_error(file, "log-header", "the run log is longer than its header says",
                            "copy LOG.CSV off the card as it is");
    error.found = fmt::format("{} sectors behind the header", there);
    error.expected = std::to_string(header.record_sectors);
    return Unexpected(std::move(error));
  }
  const auto count = static_cast<std::uint32_t>(there);
  log.sectors = count;
  log.missing_sectors = header.record_sectors - count;
  Taker taker(log);
  for (std::uint32_t at = 0; at < count; at += sectors_at_once) {
    const std::size_t now = std::min<std::size_t>(sectors_at_once, count - at);
    bytes.resize(now * format::log_sector);
    if (auto done = read(std::uint64_t{at} + 1, bytes); !done) {
      return Unexpected(done.error());
    }
    for (std::size_t i = 0; i < now; ++i) {
      taker.take(at + 1 + static_cast<std::uint32_t>(i), sector_at(bytes, i));
    }
  }
  return log;
}

Try<LogFile> from_image(const io::ReadFile& opened, const std::string& file) {
  fat32::FileSource source(opened);
  auto volume = fat32::Volume::open(source);
  if (!volume) {
    return Unexpected(std::move(volume).error());
  }
  const fat32::Entry* entry = volume->find(log_path);
  if (entry == nullptr || entry->folder) {
    return Unexpected(log_error(file, "log-none", "there is no run log on this card",
                                "results of a station that reads plain files come back as a hand "
                                "tally, see --tally"));
  }
  return take_log(file, entry->size, [&](std::uint64_t first, ByteSpan out) {
    return volume->read(*entry, first * format::log_sector, out);
  });
}

} // namespace

std::string capitals(std::string text) {
  for (char& c : text) {
    c = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  }
  return text;
}

Try<LogFile> read_log(io::System& system, const std::string& file) {
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
    return from_image(*opened, file);
  }
  return take_log(file, opened->size(), [&](std::uint64_t first, ByteSpan out) {
    return opened->read_at(first * format::log_sector, out);
  });
}

} // namespace cardseal::runlog
