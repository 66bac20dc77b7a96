// Makes a register and the run logs of its cards, written by the code of the station's record
// writer: cycles of six slots, one board of a hundred good at its second try only, one of a
// thousand failed for good. Prints the names of the logs.
//   run_log FOLDER RECORDS
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <string>

#include <fmt/format.h>

#include "base/bytes.h"
#include "crypto/sha256.h"
#include "format/run_log.h"
#include "register/register.h"

using namespace cardseal;
using namespace cardseal::registry;

namespace {

constexpr std::uint64_t most_records = 4'000'000; // of one card; a log may have 4,194,304
constexpr std::uint64_t cycles_a_session = 500;
constexpr unsigned slots = 6;

template <class T>
T must(Try<T> tried) {
  if (!tried) {
    fmt::print(stderr, "{}\n", describe(tried.error()));
    std::exit(1);
  }
  return std::move(*tried);
}

template <class Text>
Text text(const char* value) {
  Text out;
  (void)out.set(value);
  return out;
}

SetRequest request(std::uint64_t cards, std::uint64_t units) {
  SetRequest set;
  set.product = text<format::Id>("frost-node");
  set.scheme.set(text<format::Id>("fn-serial"));
  set.capacity = 100'000'000;
  format::Window window;
  window.scheme = set.scheme.value;
  window.first = 0;
  window.last = 99'999'999;
  set.permitted = {window};
  set.work_order = text<format::Name>("WO-1");
  CardRequest card;
  card.station = text<format::Id>("orchard-1");
  card.units = units;
  card.enabled_slots = 0x3F;
  set.cards.assign(cards, card);
  return set;
}

class Writer {
public:
  Writer(const std::string& path, const AllotmentRow& row, std::uint64_t records)
      : out_(path, std::ios::binary), left_(records), ordinal_(row.range.first) {
    format::render_log_header({row.card, static_cast<std::uint32_t>(records)}, sector_);
    put();
    record_.station = text<format::LogWord>("ORCHARD-1");
    record_.enrolment = static_cast<std::uint32_t>(row.enrolment);
    record_.supply_mv = 3297;
    record_.date = text<format::LogWord>("2026-03-02");
    record_.shift = text<format::LogWord>("EARLY");
    record_.fixture = text<format::LogWord>("FX-07");
  }

  void run() {
    for (std::uint64_t cycle = 0; left_ > 0; ++cycle) {
      record_.session = static_cast<std::uint32_t>(cycle / cycles_a_session + 1);
      record_.cycle = static_cast<std::uint32_t>(cycle % cycles_a_session + 1);
      for (unsigned slot = 1; slot <= slots; ++slot) {
        record(slot, 1, "BEGUN");
      }
      for (unsigned slot = 1; slot <= slots; ++slot) {
        end(slot);
      }
      ordinal_ += slots;
    }
  }

private:
  void end(unsigned slot) {
    const std::uint64_t ordinal = ordinal_ + slot - 1;
    const bool dead = ordinal % 1000 == 3;
    if (!dead && ordinal % 100 != 7) {
      return record(slot, 1, "GOOD");
    }
    record(slot, 1, "VERIFY");
    record(slot, 2, "BEGUN");
    record(slot, 2, dead ? "VERIFY" : "GOOD");
  }

  void record(unsigned slot, unsigned attempt, const char* outcome) {
    if (left_ == 0) {
      return;
    }
    --left_;
    record_.slot = static_cast<std::uint8_t>(slot);
    record_.tries = static_cast<std::uint8_t>(attempt);
    record_.ordinal.set(ordinal_ + slot - 1);
    record_.outcome = text<format::LogWord>(outcome);
    record_.duration_ms = record_.outcome.view() == format::log_begun ? 0 : 8412;
    (void)format::render_log_record(record_, sector_);
    std::array<std::uint8_t, 8> before{};
    store_be64(before.data(), record_.chain);
    hash_.update(before);
    hash_.update(format::log_bytes_before_chain(sector_));
    record_.chain = load_be64(hash_.finish().data());
    (void)format::render_log_record(record_, sector_);
    put();
  }

  void put() {
    out_.write(reinterpret_cast<const char*>(bytes_.data()),
               static_cast<std::streamsize>(bytes_.size()));
  }

  std::ofstream out_;
  std::uint64_t left_;
  std::uint64_t ordinal_; // of the cycle's first slot
  format::LogRecord record_;
  std::array<std::uint8_t, format::log_sector> bytes_{};
  format::LogSector sector_{bytes_};
  crypto::Sha256 hash_;
};

} // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    fmt::print(stderr, "run_log FOLDER RECORDS\n");
    return 64;
  }
  const io::Path folder = argv[1];
  const std::uint64_t records = std::strtoull(argv[2], nullptr, 10);
  const std::uint64_t cards = (records + most_records - 1) / most_records;
  Register numbers = must(Register::create(io::real_system(), folder / "bench.register", {}));
  (void)must(numbers.enrol({text<format::Id>("orchard-1"), false, std::nullopt, 1}));
  (void)must(numbers.reserve(request(cards, records / cards / 2 + slots)));
  std::vector<AllotmentRow> rows;
  (void)numbers.each_allotment([&](const AllotmentRow& row) { rows.push_back(row); });
  for (const AllotmentRow& row : rows) {
    const std::string path = (folder / fmt::format("log-{}.csv", row.id)).string();
    Writer(path, row, records / cards).run();
    fmt::print("{}\n", path);
  }
  return 0;
}
