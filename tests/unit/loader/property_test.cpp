// What holds of a card whatever happens to it: one flipped bit anywhere, an answer that differs at
// any one read, and numbers that no second board gets.
#include <map>
#include <set>

#include "log_kit.h"
#include "support/catch.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// The signatures' answers are kept, since the same ones are asked thousands of times.
struct RememberedCrypto {
  crypto::BotanContext botan;
  trust::CryptoTable inner = crypto::botan_table(botan);
  std::map<std::string, bool> answers;

  static RememberedCrypto& self(void* context) { return *static_cast<RememberedCrypto*>(context); }
  trust::CryptoTable table() {
    trust::CryptoTable out;
    out.context = this;
    out.sha256_start = [](void* c) { self(c).inner.sha256_start(self(c).inner.context); };
    out.sha256_add = [](void* c, const std::uint8_t* bytes, std::size_t size) {
      self(c).inner.sha256_add(self(c).inner.context, bytes, size);
    };
    out.sha256_finish = [](void* c, std::uint8_t* digest) {
      self(c).inner.sha256_finish(self(c).inner.context, digest);
    };
    out.ed25519_verify = [](void* c, const std::uint8_t* key, const std::uint8_t* head,
                            std::size_t head_size, const std::uint8_t* body, std::size_t body_size,
                            const std::uint8_t* signature) {
      std::string question(text_of({key, 32}));
      question += text_of({signature, 64});
      question += text_of({head, head_size});
      question += text_of({body, body_size});
      const auto known = self(c).answers.find(question);
      if (known != self(c).answers.end()) {
        return known->second;
      }
      const bool good = self(c).inner.ed25519_verify(self(c).inner.context, key, head, head_size,
                                                     body, body_size, signature);
      self(c).answers.emplace(std::move(question), good);
      return good;
    };
    return out;
  }
};

// All that a station acts on, and what it remembers: settings, image, the first and last unit.
struct Act {
  int reason = 0;
  format::Digest manifest{}, image{}, memory{};
  std::string units;
  friend bool operator==(const Act&, const Act&) = default;
};

class Floor {
public:
  explicit Floor(CardKit& kit) : bench(kit), image(kit.image), fresh(bench.store.slots) {
    bench.crypto = crypto.table();
  }

  // A station that never met a card, with this one.
  Act act() {
    bench.store.slots = fresh;
    bench.restart();
    Act out;
    out.reason = number(bench.admit());
    Bytes streamed;
    if (out.reason == 0) {
      out.reason = number(stream(*bench.station, streamed));
    }
    // Whatever was handed out before a reason came is the approved image's, from its start.
    handed_out_well = streamed.size() <= image.size() &&
                      std::equal(streamed.begin(), streamed.end(), image.begin());
    if (out.reason == 0) {
      describe(out, streamed);
    }
    return out;
  }

  Bench bench;
  Bytes image;
  bool handed_out_well = true;

private:
  void describe(Act& out, const Bytes& streamed) {
    const loader::Job& job = bench.station->job();
    out.manifest = job.verdict.manifest_digest;
    out.image = digest_of(streamed);
    for (const std::uint64_t step : {std::uint64_t{0}, std::uint64_t{job.allotment.count - 1U}}) {
      unit::UnitText unit;
      unit::UnitBytes bytes;
      REQUIRE(bench.station->unit_text(job.allotment.first + step, unit).ok());
      REQUIRE(bench.station->unit_bytes(job.allotment.first + step, 0, bytes).ok());
      out.units += std::string(unit.view()) + std::string(text_of(bytes.view()));
    }
    out.memory = digest_of(bench.store.slots[0]);
  }

  std::array<Bytes, 2> fresh;
  RememberedCrypto crypto;
};

// Parts of a card, by what a flipped bit in them may do.
struct Part {
  std::string name;
  std::uint32_t lba = 0;
  std::uint32_t bytes = 0; // from the sector's start
  std::uint32_t first = 0; // byte
};

std::vector<Part> parts_of(const Card& card, const std::map<std::string, Bytes>& files) {
  const fat32::VolumeShape& shape = card.plan.shape;
  const std::uint32_t table_bytes = 4 * (card.plan.used_clusters + 2);
  std::vector<Part> parts{{"boot", shape.partition_lba, 512, 0},
                          {"reserved", shape.partition_lba + 1, 512 * 6, 0},
                          {"table", shape.fat_lba(0), table_bytes, 0},
                          {"second table", shape.fat_lba(1), table_bytes, 0}};
  for (const fat32::PlannedFolder& folder : card.plan.folders) {
    parts.push_back({"folder", shape.lba_of(folder.first_cluster),
                     folder.cluster_count * shape.cluster_bytes(), 0});
  }
  for (const auto& [path, bytes] : files) {
    const auto size = static_cast<std::uint32_t>(bytes.size());
    parts.push_back({path, card.lba_of(path), size, 0});
    if (size % 512 != 0) {
      parts.push_back({"slack", card.lba_of(path) + size / 512, 512, size % 512});
    }
  }
  return parts;
}

// Reasons that a flipped bit in a part can have; none: it changes nothing. Where it may do either,
// `harmless` says for which bytes it may change nothing.
const std::map<std::string, std::set<int>> reasons_by_part{
    {"boot", {307, 502, 503, 504, 505}},
    {"reserved", {}}, // the file system's information and the copy of the boot sector
    {"second table", {}},
    // A file under another name, in another place, of another size, or none: what it held decides.
    {"table", {303, 307, 311, 321, 322, 504, 505, 506, 507, 508}},
    {"folder", {303, 307, 311, 321, 322, 504, 505, 506, 507, 508}},
    {"slack", {}},
    {"CARDSEAL/LOG.CSV", {}}, // decides nothing
    {"CARDSEAL/TRUST.TXT", {322}},
    {"CARDSEAL/TRUST.S01", {321, 322}},
    {"CARDSEAL/CARD.TXT", {311}},
    {"CARDSEAL/CARD.S01", {311, 321}},
    {"CARDSEAL/A01.TXT", {507}},
    {"CARDSEAL/A01.S01", {507}},
    {"CARDSEAL/P01.CRP", {507}},
    {"README.TXT", {507}}};

// Microsoft FAT Specification (2005), section 3: what a reader of one volume needs not.
bool harmless_in_boot(std::uint32_t byte) {
  constexpr std::pair<std::uint32_t, std::uint32_t> unused[] = {
      {0, 1},     // the jump to the boot code, of two forms
      {3, 10},    // who formatted it
      {21, 21},   // media
      {24, 31},   // geometry, sectors before
      {32, 35},   // sectors in all: some less, where no file ends behind them
      {40, 41},   // which table is active
      {48, 81},   // information and copy sectors, reserved, drive, volume id and label
      {90, 509}}; // boot code
  return std::any_of(std::begin(unused), std::end(unused), [&](const auto& range) {
    return byte >= range.first && byte <= range.second;
  });
}

// Section 4: the upper four bits are nobody's, and each value from 0x0FFFFFF8 on is an end. The
// first two entries are no cluster's; a folder's are read only behind its first cluster.
bool harmless_in_table(const Card& card, std::uint32_t byte, ByteView before, ByteView after) {
  const std::size_t at = byte % 512 / 4 * 4;
  const std::uint32_t was = load_le32(before.data() + at) & 0x0FFF'FFFFU;
  const std::uint32_t is = load_le32(after.data() + at) & 0x0FFF'FFFFU;
  const std::uint32_t entry = byte / 4;
  const bool folder = std::any_of(
      card.plan.folders.begin(), card.plan.folders.end(), [&](const fat32::PlannedFolder& one) {
        return entry >= one.first_cluster && entry < one.first_cluster + one.cluster_count;
      });
  return was == is || (was >= 0x0FFF'FFF8U && is >= 0x0FFF'FFF8U) || entry < 2 || folder;
}

// Section 6: of a file's entry the letter case of its name, the times, and the upper four bits of
// its cluster; of a folder's entry its size, too; of one that is a label's, a long name's, unused,
// of the folder itself or the one above, or of the empty file that the index does not list, all.
bool harmless_in_folder(std::uint32_t byte, ByteView before, ByteView after) {
  const std::uint8_t* entry = before.data() + byte % 512 / 32 * 32;
  const std::uint32_t in_entry = byte % 32;
  const bool folder = (entry[11] & 0x10U) != 0;
  const bool others = (entry[11] & 0x08U) != 0 || entry[0] == 0 || entry[0] == '.' ||
                      (!folder && load_le32(entry + 28) == 0);
  const bool upper_bits = in_entry == 21 && ((before[byte % 512] ^ after[byte % 512]) & 0x0FU) == 0;
  return others || upper_bits || (in_entry >= 11 && in_entry <= 19) ||
         (in_entry >= 22 && in_entry <= 25) || (folder && in_entry >= 28);
}

bool harmless(const std::string& part, const Card& card, std::uint32_t byte, ByteView before,
              ByteView after) {
  return reasons_by_part.at(part).empty() || (part == "boot" && harmless_in_boot(byte)) ||
         (part == "table" && harmless_in_table(card, byte, before, after)) ||
         (part == "folder" && harmless_in_folder(byte, before, after));
}

// Sparser where all bits are alike: in the package, and where nothing may follow.
std::size_t step_of(const std::string& part, std::size_t step) {
  return part == "CARDSEAL/P01.CRP" || reasons_by_part.at(part).empty() ? 31 * step : step;
}

// Every `step`th bit of each part, of some sparser. How many were refused.
std::size_t flip_all(CardKit& kit, std::size_t step) {
  Floor floor(kit);
  const Act good = floor.act();
  REQUIRE(good.reason == 0);
  const Card& card = floor.bench.card;
  std::size_t flips = 0;
  std::size_t refused = 0;
  for (const Part& part : parts_of(card, kit.files)) {
    for (std::size_t bit = 8 * std::size_t{part.first}; bit < 8 * std::size_t{part.bytes};
         bit += step_of(part.name, step)) {
      const auto byte = static_cast<std::uint32_t>(bit / 8);
      const std::uint32_t lba = part.lba + byte / 512;
      const Bytes before = card.sector(lba);
      const auto flipped = static_cast<std::uint8_t>(before[byte % 512] ^ (1U << (bit % 8)));
      card.set(lba, byte % 512, ByteView(&flipped, 1));
      const Act found = floor.act();
      INFO(part.name << ", byte " << byte << ", bit " << bit % 8 << ": " << found.reason);
      CHECK(floor.handed_out_well);
      if (found.reason != 0) {
        ++refused;
        CHECK(reasons_by_part.at(part.name).count(found.reason) == 1);
      } else {
        CHECK(found == good);
        CHECK(harmless(part.name, card, byte, before, card.sector(lba)));
      }
      card.set(lba, 0, before);
      if (++flips % 1000 == 0) {
        CHECK(floor.act() == good); // the card as it was
      }
    }
  }
  CHECK(floor.act() == good);
  return refused;
}

} // namespace

TEST_CASE(
    "one flipped bit anywhere on a card is refused for a reason of its part, or changes nothing") {
  CardKit kit;
  CHECK(flip_all(kit, 29) > 500);
}

// Every bit but those of the package and the log, a few minutes: outside ctest, as test_loader
// '[long]'.
TEST_CASE("each flipped bit of a card is refused for a reason of its part, or changes nothing",
          "[.][long]") {
  CardKit kit;
  CHECK(flip_all(kit, 1) > 20'000);
}

// The answer to each read in turn differs in one bit, once.
TEST_CASE("a card that answers otherwise at any one read gives the same work or none") {
  CardKit kit;
  Floor floor(kit);
  std::size_t reads = 0;
  floor.bench.on_read = [&](std::uint32_t, ByteSpan) { return ++reads > 0; };
  const Act good = floor.act();
  REQUIRE(good.reason == 0);
  const std::size_t all = reads;
  REQUIRE(all > 100);
  std::size_t refused = 0;
  for (std::size_t at = 0; at < all; ++at) {
    for (const std::size_t bit : {at * 7919 % 4096, at * 104729 % 4096}) { // primes: any places do
      reads = 0;
      floor.bench.on_read = [&](std::uint32_t, ByteSpan bytes) {
        if (reads++ == at) {
          bytes[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
        }
        return true;
      };
      const Act found = floor.act();
      INFO("read " << at << ", bit " << bit);
      CHECK(floor.handed_out_well);
      CHECK((found.reason != 0 || found == good));
      refused += found.reason != 0 ? 1 : 0;
      floor.bench.on_read = nullptr;
      if (at % 50 == 0) {
        CHECK(floor.act() == good); // one bad card never blocks the next good one
      }
    }
  }
  CHECK(refused > all / 4);
}

namespace {

// Works through `cycles` cycles of up to three boards; the ordinals that they took.
std::vector<std::uint64_t> take(LogBench& bench, int cycles) {
  std::vector<std::uint64_t> out;
  for (int i = 0; i < cycles && bench.bench.station->units_left() > 0; ++i) {
    const std::uint32_t left = std::min<std::uint32_t>(3, bench.bench.station->units_left());
    std::uint64_t first = 0;
    REQUIRE(bench.log->begin_cycle((1U << left) - 1, 3300, first).ok());
    for (std::uint8_t slot = 1; slot <= left; ++slot) {
      REQUIRE(bench.end(slot, "GOOD").ok());
      out.push_back(first + slot - 1U);
    }
  }
  return out;
}

} // namespace

TEST_CASE("no two boards get one number, and none comes past the quota, whatever happens between") {
  CardKit kit;
  LogBench bench(kit);
  const Card card = bench.bench.card;
  const Card copy = kit.build(); // of the card as it left the desk
  CardKit other_kit;
  other_kit.allotment.card = other_kit.index.card_id = {8, 7, 6, 5, 4, 3, 2, 1};
  other_kit.allotment.serial = 12;
  other_kit.allotment.first = 2000;
  const Card other = other_kit.build();
  std::multiset<std::uint64_t> taken;
  const auto work = [&](const Card& inserted, int cycles) {
    bench.bench.insert(inserted);
    REQUIRE(bench.power_on().ok());
    for (const std::uint64_t ordinal : take(bench, cycles)) {
      taken.insert(ordinal);
    }
  };
  work(card, 1);
  work(card, 2);  // power off and on
  work(other, 1); // another card, and this one again
  work(copy, 1);  // a copy that was made before any of it
  work(card, 9);
  CHECK(taken.size() == 20 + 3);
  CHECK(std::set<std::uint64_t>(taken.begin(), taken.end()).size() == taken.size());
  for (const Card& spent : {card, copy}) { // a unit more: by no card of this allotment
    bench.bench.insert(spent);
    CHECK(number(bench.restart()) == 0); // the last record is written once more, and that is all
    CHECK(bench.bench.station->finished());
    CHECK_FALSE(bench.bench.station->admitted());
    std::uint64_t first = 0;
    CHECK_FALSE(bench.log->begin_cycle(0x01, 3300, first).ok());
  }
  format::StateHead again = Bench::head_of(kit); // lost, and enrolled anew
  ++again.enrolment;
  bench.bench.enrol(kit, again);
  for (const Card& before : {card, copy, other}) {
    bench.bench.insert(before);
    bench.bench.restart();
    CHECK(number(bench.bench.admit()) == 388);
  }
}
