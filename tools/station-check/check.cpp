#include "check.h"

#include <algorithm>
#include <memory>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "crypto/table.h"
#include "io/file.h"
#include "seal/owner.h"
#include "state_file.h"

namespace cardseal::station_check {
namespace {

Error usage(std::string what, std::string found, std::string expected) {
  Error error;
  error.kind = ErrorKind::usage;
  error.code = "enrol-option";
  error.what = std::move(what);
  error.found = std::move(found);
  error.expected = std::move(expected);
  return error;
}

bool is_id(std::string_view text) {
  const auto fits = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-';
  };
  return !text.empty() && text.size() <= 16 && text[0] >= 'a' && text[0] <= 'z' &&
         std::all_of(text.begin(), text.end(), fits);
}

// "1800:5000:100" in millivolts.
bool read_supply(std::string_view text, format::StateHead& head) {
  const std::size_t first = text.find(':');
  const std::size_t second = first == std::string_view::npos ? first : text.find(':', first + 1);
  if (second == std::string_view::npos) {
    return false;
  }
  std::uint64_t low = 0;
  std::uint64_t high = 0;
  std::uint64_t step = 0;
  const bool good = parse_uint(text.substr(0, first), low) &&
                    parse_uint(text.substr(first + 1, second - first - 1), high) &&
                    parse_uint(text.substr(second + 1), step) && low <= high && high <= 60'000 &&
                    step >= 1 && step <= 10'000;
  head.supply_low_mv = static_cast<std::uint32_t>(low);
  head.supply_high_mv = static_cast<std::uint32_t>(high);
  head.supply_step_mv = static_cast<std::uint32_t>(step);
  return good;
}

Try<format::StateHead> head_from(const EnrolOptions& options) {
  format::StateHead head;
  constexpr const char* id_form = "1 to 16 of a-z, 0-9 and '-', the first a letter";
  if (!is_id(options.name)) {
    return Unexpected(usage("a station's name has another form", options.name, id_form));
  }
  if (!is_id(options.model)) {
    return Unexpected(usage("a station model's id has another form", options.model, id_form));
  }
  if (options.slots < 1 || options.slots > 32) {
    return Unexpected(
        usage("the number of slots is out of range", std::to_string(options.slots), "1 to 32"));
  }
  if (!read_supply(options.supply, head)) {
    return Unexpected(usage("the supply range has another form", options.supply,
                            "LOW:HIGH:STEP in millivolts, e.g. 1800:5000:100"));
  }
  if (options.enrolment < 1 || options.enrolment > 999'999) {
    return Unexpected(usage("the enrolment number is out of range",
                            std::to_string(options.enrolment), "1 to 999999"));
  }
  head.station.set(options.name);
  head.model.set(options.model);
  head.slots = options.slots == 32 ? 0xFFFF'FFFFU : (std::uint32_t{1} << options.slots) - 1;
  head.own_supply_ok = options.own_supply_ok;
  head.no_log = options.no_log;
  head.enrolment = options.enrolment;
  return head;
}

loader::SectorReader reader_of(const io::ReadFile& file) {
  const auto read = [](void* context, std::uint32_t lba, ByteSpan out) {
    const auto* card = static_cast<const io::ReadFile*>(context);
    return card->read_at(std::uint64_t{lba} * 512, out).has_value();
  };
  const std::uint64_t sectors = file.size() / 512;
  return {const_cast<io::ReadFile*>(&file), read,
          static_cast<std::uint32_t>(std::min<std::uint64_t>(sectors, 0xFFFF'FFFFU))};
}

// The version of the root that a station holds; 0 when its text can't be read.
std::uint32_t version_held(const loader::StationMemory& memory, const trust::CryptoTable& crypto) {
  io::Bytes buffer(format::state::text_limit);
  ByteSpan text;
  format::Root root;
  const bool read = memory.read_root(crypto, buffer, text).ok() && format::decode(text, root).ok();
  return read ? root.version : 0;
}

// The root named on the command line against the one that the station holds: the same, an earlier
// or a later one of the same owner. What the station may still learn it takes from cards alone.
Try<Outcome> judge_owner(const seal::OwnerRoot& root, const loader::StationMemory& memory,
                         const trust::CryptoTable& crypto, const std::string& state) {
  const format::StateHead& head = memory.head();
  if (root.owner != head.owner) {
    return refuse(Fault::root_other_owner);
  }
  const std::uint32_t held = version_held(memory, crypto);
  if (held == 0 || held > root.root.version) {
    return done; // damage is for admission to say
  }
  const auto then = seal::root_of_version(root, held, state);
  if (then && crypto::sha256(then->file.text) == head.root_digest) {
    return done;
  }
  Error error;
  error.kind = ErrorKind::config;
  error.code = "state-root";
  error.what = "the station holds another root of this owner's than the one of this version here";
  error.place.file = state;
  error.found = fmt::format("version {}, {}", held, crypto::spell_digest(head.root_digest));
  error.hint = "ask quality which of the two is false, and enrol the station anew";
  return Unexpected(std::move(error));
}

// What the card left in the station's memory.
void tell_learned(const loader::StationMemory& before, std::uint32_t root_before,
                  const loader::StateStorage& storage, const trust::CryptoTable& crypto,
                  Verdict& verdict) {
  loader::StationMemory now(storage);
  if (!now.load().ok()) {
    return;
  }
  const std::uint32_t root = version_held(now, crypto);
  if (root != root_before) {
    verdict.learned.push_back(fmt::format("root version {}, after {}", root, root_before));
  }
  if (now.head().trust_digest != before.head().trust_digest) {
    verdict.learned.push_back(fmt::format("trust list {}", now.head().trust_sequence));
  }
  const int stops = now.head().withdrawn_count - before.head().withdrawn_count;
  if (stops > 0) { // fewer when the list took some over
    verdict.learned.push_back(
        fmt::format("{} withdrawal{}, for good", stops, stops == 1 ? "" : "s"));
  }
}

std::optional<view::StationUnit> unit_at(const loader::Station& station, std::uint64_t ordinal) {
  unit::UnitText text;
  if (!station.unit_text(ordinal, text).ok()) {
    return std::nullopt;
  }
  view::StationUnit unit{ordinal, std::string(text.view()), {}};
  for (std::size_t i = 0; i < station.job().manifest.placements.count; ++i) {
    unit::UnitBytes bytes;
    if (!station.unit_bytes(ordinal, i, bytes).ok()) {
      return std::nullopt;
    }
    unit.bytes.push_back(crypto::hex(bytes.view()));
  }
  return unit;
}

Outcome stream_all(loader::Station& station, Verdict& verdict) {
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

void describe_job(const loader::Station& station, Verdict& verdict) {
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

} // namespace

Try<void> enrol(io::System& system, const EnrolOptions& options) {
  auto head = head_from(options);
  if (!head) {
    return Unexpected(std::move(head).error());
  }
  auto root = seal::read_root(system, options.root);
  if (!root) {
    return Unexpected(std::move(root).error());
  }
  head->owner = root->owner;
  head->root_digest = crypto::sha256(root->file.text);
  head->root_size = static_cast<std::uint16_t>(root->file.text.size());
  auto state = StateFile::create(system, options.state);
  if (!state) {
    return Unexpected(std::move(state).error());
  }
  const Outcome made = loader::StationMemory::create(state->storage(), *head, root->file.text);
  if (!made.ok()) {
    (void)system.remove(options.state);
    Error error = error_from(made, options.state);
    error.kind = ErrorKind::io;
    return Unexpected(std::move(error));
  }
  const io::Path folder = io::Path(options.state).parent_path();
  if (const auto synced = system.sync_folder(folder.empty() ? io::Path(".") : folder); !synced) {
    return Unexpected(io::error_from(synced.error(), options.state, "create"));
  }
  return {};
}

Try<Verdict> check(io::System& system, const CheckOptions& options) {
  auto card = io::ReadFile::open(system, options.card);
  if (!card) {
    return Unexpected(std::move(card).error());
  }
  auto root = seal::read_root(system, options.root);
  if (!root) {
    return Unexpected(std::move(root).error());
  }
  auto state = StateFile::open(system, options.state);
  if (!state) {
    return Unexpected(std::move(state).error());
  }
  const loader::StateStorage storage = state->storage();
  const loader::SectorReader reader = reader_of(*card);
  crypto::BotanContext context;
  const trust::CryptoTable crypto = crypto::botan_table(context);

  Verdict verdict;
  loader::StationMemory memory(storage);
  verdict.outcome = memory.load();
  if (!verdict.outcome.ok()) {
    return verdict;
  }
  verdict.station = memory.head().station.view();
  verdict.model = memory.head().model.view();
  verdict.enrolment = memory.head().enrolment;
  const auto owner = judge_owner(*root, memory, crypto, options.state);
  if (!owner) {
    return Unexpected(owner.error());
  }
  verdict.outcome = *owner;
  const auto arena = std::make_unique<loader::Arena>();
  loader::Station station(*arena, reader, storage, crypto);
  if (verdict.outcome.ok()) {
    const std::uint32_t root_before = version_held(memory, crypto);
    verdict.outcome = station.admit(static_cast<std::uint16_t>(options.job - 1));
    verdict.job = options.job;
    verdict.jobs = station.jobs();
    tell_learned(memory, root_before, storage, crypto, verdict);
  }
  if (verdict.outcome.ok()) {
    verdict.outcome = stream_all(station, verdict);
  }
  if (verdict.outcome.ok()) {
    describe_job(station, verdict);
  }
  return verdict;
}

} // namespace cardseal::station_check
