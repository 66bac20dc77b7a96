// Run logs. The first byte says what the rest is:
//   0  sectors as they are
//   1  sectors whose CRC is made right, so that what is in front of it is read
//   2  the work of a station, 8 bytes a record, chained as it would be
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <unistd.h>

#include <fmt/format.h>

#include "base/crc.h"
#include "claim.h"
#include "crypto/sha256.h"
#include "runlog/account.h"

namespace {

using namespace cardseal;
using namespace cardseal::runlog;

constexpr format::CardId card{0, 0, 0, 0, 0, 0, 0, 1};

format::LogSector sector_of(io::Bytes& log, std::size_t index) {
  return format::LogSector(log.data() + index * format::log_sector, format::log_sector);
}

void mend_crc(format::LogSector sector) {
  const ByteView covered = format::log_bytes_before_crc(sector);
  const std::string crc = fmt::format("{:08X}", crc32(covered));
  if (!covered.empty() && covered.size() + crc.size() < sector.size()) {
    copy(sector.subspan(covered.size(), crc.size()), bytes_of(crc));
  }
}

format::LogRecord record_of(ByteView input) {
  constexpr std::string_view outcomes[] = {"BEGUN", "GOOD", "VERIFY", "BEGUN", "NO-CONTACT"};
  format::LogRecord r;
  (void)r.station.set(input[0] % 8 == 0 ? "ORCHARD-2" : "ORCHARD-1");
  r.enrolment = 1 + (input[0] >> 7);
  r.session = 1 + input[1] % 4;
  r.cycle = 1 + input[2] % 8;
  r.slot = static_cast<std::uint8_t>(1 + input[3] % 6);
  if (input[4] != 0) {
    r.ordinal.set(99U + input[4] % 64);
  }
  (void)r.outcome.set(outcomes[input[5] % std::size(outcomes)]);
  r.tries = static_cast<std::uint8_t>(1 + input[6] % 3);
  (void)r.fixture.set(input[7] % 2 == 0 ? "" : "FX-07");
  return r;
}

io::Bytes work_of(ByteView input) {
  const std::size_t count = input.size() / 8;
  io::Bytes log((count + 2) * format::log_sector);
  format::render_log_blank(sector_of(log, count + 1));
  std::uint64_t chain = 0;
  for (std::size_t i = 0; i < count; ++i) {
    format::LogRecord r = record_of(input.subspan(8 * i, 8));
    const format::LogSector sector = sector_of(log, i + 1);
    fuzz::claim(format::render_log_record(r, sector), "a record in form can be written");
    io::Bytes message(8);
    store_be64(message.data(), chain);
    const ByteView covered = format::log_bytes_before_chain(sector);
    message.insert(message.end(), covered.begin(), covered.end());
    r.chain = chain = load_be64(crypto::sha256(message).data());
    fuzz::claim(format::render_log_record(r, sector), "a record in form can be written");
  }
  return log;
}

// With a header that fits, and whole sectors behind it.
io::Bytes log_of(ByteView input) {
  const std::uint8_t kind = input[0] % 3;
  io::Bytes log;
  if (kind == 2) {
    log = work_of(input.subspan(1));
  } else {
    log.assign(format::log_sector, 0);
    log.insert(log.end(), input.begin() + 1, input.end());
    log.resize((log.size() + format::log_sector - 1) / format::log_sector * format::log_sector,
               ' ');
    log.resize(std::max(log.size(), 2 * format::log_sector), ' ');
    for (std::size_t i = 1; kind == 1 && i < log.size() / format::log_sector; ++i) {
      mend_crc(sector_of(log, i));
    }
  }
  const auto behind = static_cast<std::uint32_t>(log.size() / format::log_sector - 1);
  format::render_log_header({card, behind}, sector_of(log, 0));
  return log;
}

void claim_sectors(io::Bytes& log) {
  for (std::size_t i = 0; i < log.size() / format::log_sector; ++i) {
    const format::LogSector sector = sector_of(log, i);
    format::LogRecord record;
    const bool taken = format::parse_log_record(sector, record).ok();
    fuzz::claim(taken == (format::log_sector_kind(sector) == format::LogSectorKind::record),
                "what is read as a record is of that kind");
    std::array<std::uint8_t, format::log_sector> again{};
    fuzz::claim(!taken || (format::render_log_record(record, again) &&
                           equal(ByteView(again), ByteView(sector))),
                "a record that is read is written as it was");
  }
}

std::vector<registry::AllotmentRow> rows_of(bool serials) {
  registry::AllotmentRow row;
  row.id = 7;
  row.card = card;
  row.station = "orchard-1";
  row.enrolment = 1;
  row.units = 40;
  row.work_order = "WO-1";
  if (serials) {
    row.scheme = "fn";
    row.range = {100, 48};
  }
  return {row};
}

bool same(const Account& one, const Account& other) {
  bool good = one.allotments.size() == other.allotments.size() &&
              one.problems.size() == other.problems.size();
  for (std::size_t i = 0; good && i < one.problems.size(); ++i) {
    good = one.problems[i].code == other.problems[i].code &&
           one.problems[i].what == other.problems[i].what;
  }
  for (std::size_t i = 0; good && i < one.allotments.size(); ++i) {
    const AllotmentAccount& a = one.allotments[i];
    const AllotmentAccount& b = other.allotments[i];
    good = a.counts == b.counts && a.bits.begun == b.bits.begun && a.bits.good == b.bits.good &&
           a.open.size() == b.open.size() && a.all.first_pass == b.all.first_pass &&
           a.keepable == b.keepable;
  }
  return good;
}

void claim_account(const std::string& file, bool serials) {
  const std::vector<registry::AllotmentRow> rows = rows_of(serials);
  const Try<LogFile> log = read_log(io::real_system(), file);
  const Try<Account> account = reconcile_files(io::real_system(), {file}, rows);
  fuzz::claim(log.has_value() && account.has_value(), "a log with a header is read");
  fuzz::claim(same(*account, reconcile({*log}, rows)), "one pass gives the account of all records");
  fuzz::claim(same(*account, reconcile({*log, *log}, rows)) || !log->whole() ||
                  !log->repeated.empty(),
              "the same log twice changes nothing");
  for (const AllotmentAccount& one : account->allotments) {
    fuzz::claim(one.counts[0] + one.counts[1] + one.counts[2] + one.counts[3] == one.row.units,
                "each unit is counted once");
  }
}

struct TemporaryFile { // gone when the program ends
  std::string path =
      (std::filesystem::temp_directory_path() / fmt::format("cardseal-fuzz-log-{}", ::getpid()))
          .string();
  ~TemporaryFile() { (void)std::remove(path.c_str()); }
};

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const TemporaryFile file;
  if (size == 0) {
    return 0;
  }
  io::Bytes log = log_of(ByteView(data, size));
  claim_sectors(log);
  std::ofstream(file.path, std::ios::binary) // nobody waits for the disk
      .write(reinterpret_cast<const char*>(log.data()), static_cast<std::streamsize>(log.size()));
  claim_account(file.path, true);
  claim_account(file.path, false);
  return 0;
}
