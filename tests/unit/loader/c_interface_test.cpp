// The C interface against the C++ core: a station in C99 (tests/support/c_station.c) works a card,
// and what it saw, its memory, its note and its card are the same as with the core.
#include "log_kit.h"
#include "support/c_station.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

LogBench& bench_of(void* context) {
  return *static_cast<LogBench*>(context);
}

cardseal_card c_card(LogBench& bench) {
  const auto read = [](void* context, std::uint32_t lba, std::uint8_t* out, std::size_t size) {
    const loader::SectorReader& reader = bench_of(context).bench.reader;
    return reader.read(reader.context, lba, {out, size}) ? 1 : 0;
  };
  const auto write = [](void* context, std::uint32_t lba, const std::uint8_t* sector) {
    const loader::SectorWriter& writer = bench_of(context).writer;
    return writer.write(writer.context, lba, {sector, format::log_sector}) ? 1 : 0;
  };
  const auto sync = [](void* context) {
    const loader::SectorWriter& writer = bench_of(context).writer;
    return writer.sync(writer.context) ? 1 : 0;
  };
  return {&bench, bench.bench.reader.sector_count, read, write, sync};
}

cardseal_state c_state(LogBench& bench) {
  const auto read = [](void* context, unsigned slot, std::uint32_t offset, std::uint8_t* out,
                       std::size_t size) {
    const loader::StateStorage& state = bench_of(context).bench.storage;
    return state.read(state.context, slot, offset, {out, size}) ? 1 : 0;
  };
  const auto write = [](void* context, unsigned slot, std::uint32_t offset,
                        const std::uint8_t* bytes, std::size_t size) {
    const loader::StateStorage& state = bench_of(context).bench.storage;
    return state.write(state.context, slot, offset, {bytes, size}) ? 1 : 0;
  };
  const auto sync = [](void* context) {
    const loader::StateStorage& state = bench_of(context).bench.storage;
    return state.sync(state.context) ? 1 : 0;
  };
  return {&bench, read, write, sync};
}

cardseal_notes c_notes(LogBench& bench) {
  const auto read = [](void* context, unsigned cell, std::uint8_t* out, std::size_t size) {
    const loader::NoteStorage& notes = bench_of(context).notes;
    return notes.read(notes.context, cell, {out, size}) ? 1 : 0;
  };
  const auto write = [](void* context, unsigned cell, const std::uint8_t* bytes, std::size_t size) {
    const loader::NoteStorage& notes = bench_of(context).notes;
    return notes.write(notes.context, cell, {bytes, size}) ? 1 : 0;
  };
  const auto sync = [](void* context) {
    const loader::NoteStorage& notes = bench_of(context).notes;
    return notes.sync(notes.context) ? 1 : 0;
  };
  return {&bench, read, write, sync};
}

cardseal_crypto c_crypto(LogBench& bench) {
  const auto start = [](void* context) {
    const trust::CryptoTable& crypto = bench_of(context).bench.crypto;
    crypto.sha256_start(crypto.context);
  };
  const auto add = [](void* context, const std::uint8_t* bytes, std::size_t size) {
    const trust::CryptoTable& crypto = bench_of(context).bench.crypto;
    crypto.sha256_add(crypto.context, bytes, size);
  };
  const auto finish = [](void* context, std::uint8_t* digest) {
    const trust::CryptoTable& crypto = bench_of(context).bench.crypto;
    crypto.sha256_finish(crypto.context, digest);
  };
  const auto verify = [](void* context, const std::uint8_t* key, const std::uint8_t* head,
                         std::size_t head_size, const std::uint8_t* body, std::size_t body_size,
                         const std::uint8_t* signature) {
    const trust::CryptoTable& crypto = bench_of(context).bench.crypto;
    return crypto.ed25519_verify(crypto.context, key, head, head_size, body, body_size, signature)
               ? 1
               : 0;
  };
  return {&bench, start, add, finish, verify};
}

cardseal_host host_of(LogBench& bench) {
  return {c_card(bench), c_state(bench), c_notes(bench), c_crypto(bench)};
}

// The same cycle as c_station_cycle, by the core; `image` as the station handed it out.
void work_by_core(LogBench& bench, Bytes& image) {
  bench.entered.date = word("2026-03-02");
  bench.entered.fixture = word("FX-07");
  REQUIRE(bench.restart().ok());
  std::uint64_t first = 0;
  REQUIRE(bench.log->begin_cycle(3, 3297, first).ok());
  REQUIRE(stream(*bench.bench.station, image).ok());
  REQUIRE(bench.log->end({1, word("GOOD"), 3290, 1500}).ok());
  REQUIRE(bench.log->end({2, word("VERIFY"), 3290, 1600}).ok());
  REQUIRE(bench.log->begin_again(2, 3297).ok());
  REQUIRE(bench.log->end({2, word("GOOD"), 3291, 1700}).ok());
}

std::vector<Bytes> whole_log(const LogBench& bench) {
  std::vector<Bytes> out;
  for (std::uint32_t i = 0; i < 127; ++i) {
    out.push_back(bench.log_sector(i));
  }
  return out;
}

format::Allotment second_of(const CardKit& kit) {
  format::Allotment second = kit.allotment;
  second.serial = kit.allotment.serial + 1;
  second.first = kit.allotment.first + kit.allotment.count;
  second.count = second.units = 1;
  second.enabled_slots = 1;
  second.work_order = text<24>("WO-0816");
  return second;
}

} // namespace

TEST_CASE("a station in C works a card as the core does, and leaves the same behind") {
  CardKit kit;
  LogBench by_core(kit);
  LogBench by_c(kit);
  Bytes image;
  work_by_core(by_core, image);
  const auto seen = std::make_unique<c_station_work>();
  const cardseal_host host = host_of(by_c);
  REQUIRE(c_station_cycle(&host, 0, 0, seen.get()) == 0);

  const loader::Job& job = by_core.bench.station->job();
  CHECK(seen->jobs == 1);
  CHECK(std::string(seen->job.title) == job.manifest.title.view());
  CHECK(std::string(seen->job.work_order) == "WO-0815");
  CHECK(std::string(seen->job.board) == job.manifest.board.view());
  CHECK(seen->job.supply_mv == 3300);
  CHECK(seen->job.units == 20);
  CHECK(seen->job.next_ordinal == 1234);
  CHECK(equal(seen->job.manifest, job.verdict.manifest_digest));
  CHECK(seen->segment.address == job.manifest.segments.items[0].address);
  CHECK(std::string(seen->placement.region) == job.manifest.placements.items[0].region.view());
  CHECK(Bytes(seen->image, seen->image + seen->image_size) == image);
  CHECK(seen->first_ordinal == 1234);
  CHECK(std::string(seen->texts[1]) == "FN001235");
  CHECK(text_of(ByteView(seen->unit, seen->unit_size)) == "FN001234");
  CHECK(seen->units_left == 18);

  CHECK(by_c.bench.store.slots == by_core.bench.store.slots);
  CHECK(by_c.cells == by_core.cells);
  CHECK(by_c.written == by_core.written);
  CHECK(whole_log(by_c) == whole_log(by_core));
}

TEST_CASE("a station in C works on boards that have numbers") {
  CardKit kit;
  kit.allotment.work_class = format::WorkClass::rework;
  kit.allotment.numbers = format::Numbers::kept;
  kit.allotment.spans.add({1234, 1234});
  kit.allotment.spans.add({1250, 1251});
  kit.allotment.count = kit.allotment.units = 3;
  LogBench bench(kit);
  REQUIRE(bench.power_on().ok());
  unit::UnitBytes bytes;
  unit::UnitText label;
  REQUIRE(bench.bench.station->unit_bytes(1251, 0, bytes).ok());
  REQUIRE(bench.bench.station->unit_text(1234, label).ok());
  const cardseal_host host = host_of(bench);
  CHECK(c_station_boards(&host, bytes.bytes.data(), bytes.size,
                         std::string(label.view()).c_str()) == 0);
  format::LogRecord r;
  const Bytes first = bench.log_sector(0);
  const Bytes second = bench.log_sector(1);
  REQUIRE(format::parse_log_record(format::LogSectorView(first.data(), 512), r).ok());
  CHECK(r.slot == 1);
  CHECK(r.ordinal.value == 1234);
  REQUIRE(format::parse_log_record(format::LogSectorView(second.data(), 512), r).ok());
  CHECK(r.slot == 3);
  CHECK(r.ordinal.value == 1251);
}

TEST_CASE("a station in C gets the reason that the core gives") {
  CardKit kit;
  kit.on_card = [](std::map<std::string, Bytes>& files) { files.erase("CARDSEAL/P01.CRP"); };
  LogBench bench(kit);
  const cardseal_host host = host_of(bench);
  std::uint16_t reason = 0;
  CHECK(c_station_reason(&host, &reason) == 0);
  CHECK(reason == 505);
  CHECK(reason == number(bench.bench.admit()));

  bench.bench.store.reads_fail = true;
  CHECK(c_station_reason(&host, &reason) == 0);
  CHECK(reason == number(bench.bench.admit()));
  bench.bench.reader.sector_count = 0;
  const cardseal_host no_card = host_of(bench);
  CHECK(c_station_reason(&no_card, &reason) == 0);
  CHECK(reason == 501);
}

TEST_CASE("calls in a wrong order, without a pointer or past the end get a number") {
  CardKit kit;
  LogBench bench(kit);
  const cardseal_host host = host_of(bench);
  CHECK(c_station_misuse(&host) == 0);
}

TEST_CASE("a job that is used up says so in C, and still what it was") {
  CardKit kit;
  LogBench bench(kit);
  const cardseal_host host = host_of(bench);
  CHECK(c_station_use_up(&host) == 0);
}

TEST_CASE("each reason has its texts in C, those of the core and four of calls") {
  REQUIRE(cardseal_text_count() == all_faults().size() + 4);
  std::uint16_t before = 0;
  for (std::size_t i = 0; i < cardseal_text_count(); ++i) {
    cardseal_text text{};
    REQUIRE(cardseal_text_at(i, &text).reason == 0);
    INFO(text.reason);
    CHECK(text.reason > before);
    before = text.reason;
    CHECK((text.display[0] != '\0' && std::string(text.display).size() <= 16));
    CHECK(text.sentence[0] != '\0');
    CHECK(text.advice[0] != '\0');
    if (i < all_faults().size()) {
      CHECK(std::string(text.display) == fault_text(static_cast<Fault>(text.reason)).display);
      CHECK(std::string(text.sentence) == fault_text(static_cast<Fault>(text.reason)).sentence);
    }
  }
  cardseal_text none{};
  CHECK(cardseal_text_of(0, &none).reason == 0);
  CHECK(std::string(none.display) == "OK");
}

TEST_CASE("of two jobs on one card either may be chosen, and each has its own share of the log") {
  CardKit kit;
  kit.more_allotments.push_back(second_of(kit));
  LogBench bench(kit);
  REQUIRE(bench.bench.station->admit(1).ok());
  CHECK(bench.bench.station->jobs() == 2);
  CHECK(bench.bench.station->job().allotment.work_order.view() == "WO-0816");
  const std::uint32_t second_share = bench.extent().first;
  CHECK(number(bench.bench.station->admit(2)) == 509);
  REQUIRE(bench.power_on().ok());
  CHECK(bench.bench.station->jobs() == 2);
  CHECK(second_share == bench.extent().first + 6 * 20);

  const auto seen = std::make_unique<c_station_work>();
  const cardseal_host host = host_of(bench);
  REQUIRE(c_station_cycle(&host, 0, 1, seen.get()) == 0); // with slot 2 begun
  CHECK(seen->jobs == 2);
  bench.written.clear();
  // The other job writes into its own share only, and nothing of the first one's again.
  REQUIRE(bench.bench.station->admit(1).ok());
  loader::RunLog log(*bench.bench.station, bench.writer, bench.notes, bench.bench.crypto);
  REQUIRE(log.open({}).ok());
  std::uint64_t first = 0;
  REQUIRE(log.begin_cycle(1, 3300, first).ok());
  REQUIRE(log.end({1, word("GOOD"), 3300, 1}).ok());
  CHECK(first == 1254);
  CHECK(bench.written == std::vector<std::uint32_t>{second_share, second_share + 1});
  // Back at the first job: behind the six of every unit that it has started.
  bench.written.clear();
  CHECK(number(bench.bench.station->admit(1)) == 395);
  REQUIRE(bench.restart().ok());
  REQUIRE(bench.log->begin_cycle(1, 3300, first).ok());
  CHECK(first == 1236);
  CHECK(bench.written == std::vector<std::uint32_t>{second_share - 6 * 20 + 6 * 2});
}

TEST_CASE("a job of another station on the card is none of this one's") {
  CardKit kit;
  format::Allotment second = second_of(kit);
  second.station = id("bench-9");
  kit.more_allotments.push_back(second);
  LogBench bench(kit);
  CHECK(bench.power_on().ok());
  CHECK(bench.bench.station->jobs() == 1);
  CHECK(number(bench.bench.station->admit(1)) == 509);
}
