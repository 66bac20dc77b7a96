// The product's code as one judge of many packages, cards and containers in one process, for the
// comparison with the oracle. A request is one line on standard input, its fields split by tabs;
// the answer on standard output is a length in bytes, a line feed, and JSON of that length.
//
//   package FILE ROOT TRUST OFF
//   card    FILE STATE AFTER OFF READ WRITE   READ: sector that fails; WRITE: writing of the memory
//                                             that fails, from 0; "-" for none
//   tar     FILE OFF
//
// A card is judged job by job of those that it has for the station. AFTER gets the station's memory
// as it stands behind the card. OFF is the number of a check to leave out, 0 for none, and needs
// the program that is linked to the switched archives.
#include <cstdio>
#include <iostream>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <archive.h>
#include <archive_entry.h>
#include <fmt/format.h>

#include "base/number.h"
#include "crypto/sha256.h"
#include "crypto/table.h"
#include "format/container.h"
#include "format/station_state.h"
#include "loader/station.h"
#include "package/memory_source.h"
#include "package/package.h"
#include "view/station_verdict.h"

#ifdef CARDSEAL_JUDGE_SWITCHED
extern "C" std::uint16_t cardseal_switched_off;
#endif

namespace {

using namespace cardseal;

using Fields = std::vector<std::string>;

std::optional<std::uint64_t> number_in(const std::string& field) {
  std::uint64_t number = 0;
  return parse_uint(field, number) ? std::optional(number) : std::nullopt;
}

bool switch_off(const std::string& field) {
  const auto number = number_in(field);
#ifdef CARDSEAL_JUDGE_SWITCHED
  cardseal_switched_off = static_cast<std::uint16_t>(number.value_or(0));
  return number.has_value();
#else
  return number == 0U;
#endif
}

std::string failed(const std::string& why) {
  return fmt::format(R"({{"error": "{}"}})", why);
}

std::string error_json(const Error& error) {
  return failed(error.code);
}

// Packages, as `cardseal verify` judges them

template <class T, class F>
std::string maybe_json(const format::Maybe<T>& value, F spelled) {
  return value.present ? spelled(value.value) : std::string("null");
}

std::string limits_json(const trust::PackageVerdict& verdict) {
  const auto units =
      maybe_json(verdict.units_a_station, [](auto v) { return fmt::format("{}", v); });
  const auto numbers =
      maybe_json(verdict.numbers, [](auto v) { return fmt::format("[{}, {}]", v.first, v.last); });
  return fmt::format(
      R"("manifest": "{}", "engineering": {}, "units_a_station": {}, "numbers": {}, "image_bytes": {})",
      crypto::spell_digest(verdict.manifest_digest), verdict.engineering, units, numbers,
      verdict.layout.image.size);
}

std::string judge_package(const Fields& fields) {
  io::System& system = io::real_system();
  const auto root = seal::read_root(system, fields[2]);
  if (!root) {
    return error_json(root.error());
  }
  const auto trust = seal::read_trust(system, fields[3], *root);
  if (!trust) {
    return error_json(trust.error());
  }
  const auto bytes = io::read_file(system, fields[1], package::max_package);
  if (!bytes) {
    return error_json(bytes.error());
  }
  const package::Judgement judged = package::judge_bytes(*bytes, *root, trust->list);
  const Outcome& outcome = judged.outcome;
  return fmt::format(R"({{"reason": {}, "item": {}, "position": {}{}}})",
                     static_cast<unsigned>(outcome.fault), outcome.item, outcome.position,
                     outcome.ok() ? ", " + limits_json(judged.verdict) : std::string());
}

// Cards, by the code of a station

struct Card {
  io::ReadFile file;
  std::optional<std::uint64_t> broken; // sector
};

struct Memory {
  io::Bytes slots;
  std::optional<std::uint64_t> fails_at; // writing, from 0; every later one fails too
  std::uint64_t writings = 0;

  std::uint8_t* at(unsigned slot, std::uint32_t offset) {
    return slots.data() + std::size_t{slot} * format::state::slot_stride + offset;
  }
};

loader::SectorReader reader_of(Card& card) {
  const auto read = [](void* context, std::uint32_t lba, ByteSpan out) {
    const auto& from = *static_cast<const Card*>(context);
    const bool broken = from.broken && *from.broken >= lba && *from.broken < lba + out.size() / 512;
    return !broken && from.file.read_at(std::uint64_t{lba} * 512, out).has_value();
  };
  return {&card, read, static_cast<std::uint32_t>(card.file.size() / 512)};
}

loader::StateStorage storage_of(Memory& memory) {
  const auto read = [](void* context, unsigned slot, std::uint32_t offset, ByteSpan out) {
    copy(out, {static_cast<Memory*>(context)->at(slot, offset), out.size()});
    return true;
  };
  const auto write = [](void* context, unsigned slot, std::uint32_t offset, ByteView bytes) {
    auto& to = *static_cast<Memory*>(context);
    if (to.fails_at && to.writings++ >= *to.fails_at) {
      return false;
    }
    copy({to.at(slot, offset), bytes.size()}, bytes);
    return true;
  };
  return {&memory, read, write, [](void*) { return true; }};
}

std::optional<view::StationUnit> unit_at(const loader::Station& station, std::uint64_t ordinal) {
  unit::UnitText text;
  if (!station.unit_text(ordinal, text).ok()) {
    return std::nullopt;
  }
  view::StationUnit unit{ordinal, std::string(text.view()), {}};
  for (std::size_t i = 0; i < station.job().manifest.placements.count; ++i) {
    unit::UnitBytes bytes;
    unit.bytes.push_back(station.unit_bytes(ordinal, i, bytes).ok() ? crypto::hex(bytes.view())
                                                                    : "none");
  }
  return unit;
}

Outcome stream_image(loader::Station& station, view::StationVerdict& verdict) {
  crypto::Sha256 whole;
  Outcome outcome = station.start_image();
  ByteView block;
  do {
    outcome = outcome.ok() ? station.next_block(block) : outcome;
    if (outcome.ok()) {
      whole.update(block);
      verdict.image_bytes += block.size();
    }
  } while (outcome.ok() && !block.empty());
  verdict.image_digest = whole.finish();
  return outcome;
}

void describe_work(const loader::Station& station, view::StationVerdict& verdict) {
  const loader::Job& job = station.job();
  verdict.manifest = job.manifest;
  verdict.manifest_digest = job.verdict.manifest_digest;
  verdict.allotment = job.allotment;
  verdict.units_left = station.units_left();
  const format::Allotment& a = job.allotment; // boards that have numbers come in any order
  if (a.scheme.present && a.numbers == format::Numbers::fresh) {
    verdict.first = unit_at(station, a.first + job.used.ordinals_used);
    verdict.last = unit_at(station, a.first + a.count - 1);
  }
}

view::StationVerdict judge_job(loader::Station& station, std::uint16_t job) {
  view::StationVerdict verdict;
  verdict.outcome = station.admit(job);
  if (verdict.outcome.ok()) {
    verdict.outcome = stream_image(station, verdict);
  }
  if (verdict.outcome.ok()) {
    describe_work(station, verdict);
  }
  return verdict;
}

// Of each job that the card has for the station, at least one.
std::vector<view::StationVerdict> judge_jobs(Card& card, Memory& memory) {
  crypto::BotanContext context;
  const trust::CryptoTable crypto = crypto::botan_table(context);
  const loader::SectorReader reader = reader_of(card);
  const auto arena = std::make_unique<loader::Arena>();
  loader::Station station(*arena, reader, storage_of(memory), crypto);
  std::vector<view::StationVerdict> out{judge_job(station, 0)};
  const std::uint16_t jobs = station.jobs();
  for (std::uint16_t job = 1; job < jobs; ++job) {
    out.push_back(judge_job(station, job));
  }
  return out;
}

std::string judge_card(const Fields& fields) {
  io::System& system = io::real_system();
  auto file = io::ReadFile::open(system, fields[1]);
  auto state = io::read_file(system, fields[2], 2 * std::uint64_t{format::state::slot_stride});
  if (!file || !state || state->size() != 2 * std::size_t{format::state::slot_stride}) {
    return failed("card or memory can't be read");
  }
  Card card{std::move(*file), number_in(fields[5])};
  Memory memory{std::move(*state), number_in(fields[6])};
  std::vector<std::string> jobs;
  for (const view::StationVerdict& verdict : judge_jobs(card, memory)) {
    jobs.push_back(view::json_of(verdict, fields[1]));
  }
  const auto kept = io::write_file(system, fields[3], memory.slots, io::IfExists::replace);
  return kept ? fmt::format(R"({{"jobs": [{}]}})", fmt::join(jobs, ", "))
              : error_json(kept.error());
}

// Containers: what of them a station believes, and what libarchive's reader makes of them

std::string entry_json(std::string_view name, ByteView content) {
  return fmt::format(R"(["{}", {}, "{}"])", crypto::hex(bytes_of(name)), content.size(),
                     crypto::hex(crypto::sha256(content)));
}

std::string our_entries(ByteView bytes, const format::PackageLayout& layout) {
  std::vector<std::string> out;
  const auto add = [&](const format::Extent& extent) {
    const ByteView header = bytes.subspan(extent.offset - format::tar_block, 100);
    std::size_t length = 0;
    while (header[length] != 0) {
      ++length;
    }
    out.push_back(
        entry_json(text_of(header.first(length)), bytes.subspan(extent.offset, extent.size)));
  };
  add(layout.manifest);
  for (const format::SignoffExtents& signoff : layout.signoffs.view()) {
    add(signoff.text);
    add(signoff.signature);
  }
  add(layout.chain);
  add(layout.image);
  add(layout.facts);
  for (const format::Extent& document : layout.documents.view()) {
    add(document);
  }
  return fmt::format("[{}]", fmt::join(out, ", "));
}

io::Bytes library_content(archive* reader, bool& good) {
  io::Bytes content;
  std::uint8_t piece[16384];
  la_ssize_t size = 0;
  while ((size = archive_read_data(reader, piece, sizeof piece)) > 0 &&
         content.size() < std::size_t{1} << 24) {
    content.insert(content.end(), piece, piece + size);
  }
  good = good && size == 0;
  return content;
}

// Everything but a hard error is read on, as tools do that only warn.
std::string library_entries(ByteView bytes, bool& good) {
  const std::unique_ptr<archive, decltype(&archive_read_free)> reader(archive_read_new(),
                                                                      archive_read_free);
  archive_read_support_format_tar(reader.get());
  good = archive_read_open_memory(reader.get(), bytes.data(), bytes.size()) == ARCHIVE_OK;
  std::vector<std::string> out;
  archive_entry* header = nullptr;
  int status = good ? archive_read_next_header(reader.get(), &header) : ARCHIVE_FATAL;
  while ((status == ARCHIVE_OK || status == ARCHIVE_WARN) && out.size() < 1000) {
    const char* name = archive_entry_pathname(header);
    const bool plain =
        archive_entry_filetype(header) == AE_IFREG && archive_entry_hardlink(header) == nullptr;
    const io::Bytes content = library_content(reader.get(), good);
    out.push_back(entry_json(
        fmt::format("{}{}", plain ? "" : "not a file: ", name == nullptr ? "" : name), content));
    status = archive_read_next_header(reader.get(), &header);
  }
  good = good && status == ARCHIVE_EOF;
  return fmt::format("[{}]", fmt::join(out, ", "));
}

std::string read_tar(const Fields& fields) {
  const auto bytes = io::read_file(io::real_system(), fields[1], package::max_package);
  if (!bytes) {
    return error_json(bytes.error());
  }
  package::MemorySource memory(*bytes);
  format::PackageLayout layout;
  const Outcome outcome = format::read_layout(memory.source(), layout);
  bool good = false;
  const std::string theirs = library_entries(*bytes, good);
  return fmt::format(R"({{"reason": {}, "ours": {}, "libarchive": {}, "libarchive_good": {}}})",
                     static_cast<unsigned>(outcome.fault),
                     outcome.ok() ? our_entries(*bytes, layout) : "[]", theirs, good);
}

std::string answer(const Fields& fields) {
  if (fields[0] == "package" && fields.size() == 5 && switch_off(fields[4])) {
    return judge_package(fields);
  }
  if (fields[0] == "card" && fields.size() == 7 && switch_off(fields[4])) {
    return judge_card(fields);
  }
  if (fields[0] == "tar" && fields.size() == 3 && switch_off(fields[2])) {
    return read_tar(fields);
  }
  return failed("no such request");
}

Fields fields_of(const std::string& line) {
  Fields fields(1);
  for (const char c : line) {
    if (c == '\t') {
      fields.emplace_back();
    } else {
      fields.back() += c;
    }
  }
  return fields;
}

} // namespace

int main() {
  std::string line;
  while (std::getline(std::cin, line)) {
    const std::string said = answer(fields_of(line));
    fmt::print("{}\n{}", said.size(), said);
    if (std::fflush(stdout) != 0) {
      return 1;
    }
  }
  return 0;
}
