// A desk that dies. Makes card sets as `cardseal card make --register` does, through the same
// functions, and kills itself with SIGKILL at the n-th change of a file within a named step; or
// says what stands in its folder. For run.py.
//
//   kill_desk start FOLDER
//   kill_desk make FOLDER NAME [STEP NTH before|after|torn]
//   kill_desk count FOLDER NAME       changes in each step, nothing killed
//   kill_desk audit FOLDER            cards, allotments and problems, one a line
#include <array>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <filesystem>

#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

#include "card/card_set.h"
#include "card/evidence.h"
#include "package/package.h"
#include "support/card_kit.h"
#include "support/faulting_vfs.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

enum class Step : std::uint8_t { reserve, sign, seal, newest, card, written, steps };
constexpr std::array<const char*, 6> step_words{"reserve", "sign", "seal",
                                                "newest",  "card", "written"};

// Where the process is, known from what it does: SQLite tells of commits, the rest follows.
struct Progress {
  Step step = Step::reserve;
  bool committing = false;
  std::array<std::uint64_t, 6> changes{};
  Step kill_step = Step::steps;
  std::uint64_t kill_at = 0;
  bool after = false;
  bool torn = false;

  bool due(Step now) {
    const auto at = static_cast<std::size_t>(now);
    return changes[at]++ == kill_at && now == kill_step;
  }
  static void die(Step now) {
    const std::string line = fmt::format("killed {}\n", step_words[static_cast<std::size_t>(now)]);
    (void)!write(2, line.data(), line.size());
    (void)raise(SIGKILL);
  }
} progress;

bool dying = false;
bool torn_now = false;

Trap before_change(Change change) {
  if (progress.step == Step::sign) {
    if (progress.due(Step::sign)) { // signed, and nothing written since
      Progress::die(Step::sign);
    }
    progress.step = Step::seal;
  }
  if (!progress.due(progress.step)) {
    return {};
  }
  if (progress.torn && change == Change::write) {
    dying = torn_now = true;
    return {SQLITE_IOERR_WRITE, 100};
  }
  if (progress.after) {
    dying = true;
    return {};
  }
  Progress::die(progress.step);
  return {};
}

void after_it(Change change) {
  if (dying) {
    Progress::die(progress.step);
  }
  // The removal of the journal is the commit.
  if (progress.committing && (change == Change::remove || change == Change::remove_unsynced)) {
    progress.committing = false;
    progress.step = progress.step == Step::reserve ? Step::sign
                    : progress.step == Step::seal  ? Step::card
                                                   : Step::sign;
  }
}

int on_commit(void*) {
  progress.committing = true;
  return 0;
}
int on_open(sqlite3* database, char**, const void*) {
  sqlite3_commit_hook(database, on_commit, nullptr);
  return SQLITE_OK;
}

// The real system; a change of a file may be the last.
class MortalSystem final : public io::System {
public:
  io::Sys<int> open(const io::Path& path, io::Open how, std::uint32_t mode) override {
    return how == io::Open::create_new
               ? last<io::Sys<int>>([&] { return below.open(path, how, mode); })
               : below.open(path, how, mode);
  }
  io::Sys<void> close(int file) override { return below.close(file); }
  io::Sys<std::size_t> read(int file, std::uint64_t offset, ByteSpan out) override {
    return below.read(file, offset, out);
  }
  io::Sys<std::size_t> read_stream(int file, ByteSpan out) override {
    return below.read_stream(file, out);
  }
  io::Sys<std::size_t> write(int file, std::uint64_t offset, ByteView bytes) override {
    const ByteView part = progress.torn && here_due() ? bytes.first(bytes.size() / 2) : bytes;
    return last<io::Sys<std::size_t>>([&] { return below.write(file, offset, part); });
  }
  io::Sys<std::size_t> write_stream(int file, ByteView bytes) override {
    return below.write_stream(file, bytes);
  }
  io::Sys<void> resize(int file, std::uint64_t size) override {
    return last<io::Sys<void>>([&] { return below.resize(file, size); });
  }
  io::Sys<void> sync(int file) override {
    return last<io::Sys<void>>([&] { return below.sync(file); });
  }
  io::Sys<void> forget_cached(int file) override { return below.forget_cached(file); }
  io::Sys<void> sync_folder(const io::Path& folder) override {
    return last<io::Sys<void>>([&] { return below.sync_folder(folder); });
  }
  io::Sys<void> rename(const io::Path& from, const io::Path& to, bool replace) override {
    return last<io::Sys<void>>([&] { return below.rename(from, to, replace); });
  }
  io::Sys<void> remove(const io::Path& path) override {
    return last<io::Sys<void>>([&] { return below.remove(path); });
  }
  io::Sys<void> make_folder(const io::Path& path) override { return below.make_folder(path); }
  io::Sys<io::Stat> stat(const io::Path& path) override { return below.stat(path); }
  io::Sys<io::Stat> stat(int file) override { return below.stat(file); }

private:
  // In the step `seal` what is changed outside the register is the newest allotment beside it.
  static Step here() { return progress.step == Step::seal ? Step::newest : progress.step; }
  static bool here_due() {
    return here() == progress.kill_step &&
           progress.changes[static_cast<std::size_t>(here())] == progress.kill_at;
  }
  template <class Result, class Work>
  Result last(Work work) {
    const bool now = progress.due(here());
    if (now && !progress.after && !progress.torn) {
      Progress::die(here());
    }
    Result result = work();
    if (now) {
      Progress::die(here());
    }
    return result;
  }
  io::System& below = io::real_system();
};

template <class T>
T must(Try<T> tried) {
  if (!tried) {
    std::fprintf(stderr, "failed: %s\n", cardseal::describe(tried.error()).c_str());
    std::exit(3);
  }
  return std::move(*tried);
}
void must(const Try<void>& tried) {
  if (!tried) {
    std::fprintf(stderr, "failed: %s\n", cardseal::describe(tried.error()).c_str());
    std::exit(3);
  }
}

format::StationFacts station_facts() {
  format::StationFacts facts;
  facts.model = id("six-slot");
  facts.reads = format::StationReads::signed_package;
  facts.slots = 0x3F;
  facts.supply_low_mv = 1800;
  facts.supply_high_mv = 5000;
  facts.supply_step_mv = 100;
  facts.max_sectors = 3'842'048;
  facts.volume_label = text<11>("FROSTNODE");
  return facts;
}

struct Owner {
  Owner() {
    kit.on_facts = [](format::Facts& facts) { facts.stations.add(station_facts()); };
    kit.manifest.station_models = {};
    kit.manifest.station_models.add(id("six-slot"));
    kit.list.windows = {};
    kit.list.windows.add({.key = key_of(Who::allot).public_key(),
                          .scheme = id("fn"),
                          .first = 1000,
                          .last = 99'999});
    (void)kit.build();
    package = must(package::open(kit.package, "kit.crp"));
    root = seal::OwnerRoot{{kit.root_text(), {}}, kit.root, kit.owner(), {}};
    trust.file.text = kit.list_text;
    crypto::Signature signature{};
    const Bytes made = sign(Who::root_a, "trust", kit.list_text);
    std::copy(made.begin(), made.end(), signature.begin());
    trust.file.signatures = {signature};
    if (!format::decode(kit.list_text, trust.list).ok()) {
      std::exit(3);
    }
  }
  CardKit kit;
  package::Package package;
  seal::OwnerRoot root;
  seal::OwnerTrust trust;
};

void start(const io::Path& folder) {
  const Owner owner;
  registry::Register numbers = must(
      registry::Register::create(io::real_system(), folder / "desk.register", owner.root.owner));
  for (const char* station : {"bench-1", "bench-2"}) {
    (void)must(numbers.enrol({id(station), false, std::nullopt, 1}));
  }
}

void make(const io::Path& folder, const std::string& name) {
  const Owner owner;
  registry::Register numbers =
      must(registry::Register::open(io::real_system(), folder / "desk.register", owner.root.owner));
  card::SetOrder order;
  order.stations = {id("bench-1"), id("bench-2")};
  order.model = id("six-slot");
  order.cards = 2;
  order.work_order = text<24>("WO-0815");
  MortalSystem system;
  const card::SetInput input{
      {{must(package::Judged::of(owner.package, owner.root, owner.trust.list)), 7, 0, {}}},
      owner.root,
      owner.trust,
      key_of(Who::allot),
      order,
      {}};
  card::Newest newest(system, card::newest_path(folder / "desk.register"), owner.root,
                      owner.trust.list);
  (void)must(card::meet_newest(numbers, input, newest));
  must(card::make_set(
      numbers, input, newest,
      [&](std::size_t index, const card::SetCard&, const card::Card& card) -> Try<void> {
        Try<void> written = card::write_card(
            system, card, folder / fmt::format("{}-{}.img", name, index), io::IfExists::refuse);
        progress.step = Step::written;
        return written;
      }));
}

void audit_card(registry::Register& numbers, const Owner& owner, const io::Path& path) {
  io::ReadFile file = must(io::ReadFile::open(io::real_system(), path));
  fat32::FileSource source(file);
  for (const registry::Evidence& evidence :
       must(card::read_evidence(source, path.string(), owner.root, owner.trust.list))) {
    const registry::Met met = must(numbers.meet(evidence, {}));
    std::printf(
        "card %s %llu %llu %s %s\n", path.filename().c_str(),
        static_cast<unsigned long long>(evidence.allotment.first),
        static_cast<unsigned long long>(evidence.allotment.count),
        crypto::hex(evidence.allotment.card).c_str(),
        std::string(registry::standing_words[static_cast<std::size_t>(met.standing)]).c_str());
    for (const std::string& problem : met.problems) {
      std::printf("problem %s\n", problem.c_str());
    }
  }
}

void audit(const io::Path& folder) {
  const Owner owner;
  registry::Register numbers =
      must(registry::Register::open(io::real_system(), folder / "desk.register", owner.root.owner));
  for (const std::string& problem : must(numbers.check())) {
    std::printf("problem %s\n", problem.c_str());
  }
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    if (entry.path().extension() == ".img") {
      audit_card(numbers, owner, entry.path());
    }
  }
  const std::optional<registry::Evidence> newest =
      must(card::Newest(io::real_system(), card::newest_path(folder / "desk.register"), owner.root,
                        owner.trust.list)
               .read());
  if (newest) {
    std::printf("newest %s\n", must(numbers.meet(*newest, {})).standing == registry::Standing::known
                                   ? "known"
                                   : "missing");
  }
}

int usage() {
  std::fprintf(stderr, "kill_desk start|make|count|audit FOLDER ...\n");
  return 64;
}

} // namespace

int main(int argc, char** argv) {
  const std::vector<std::string> words(argv + 1, argv + argc);
  if (words.size() < 2) {
    return usage();
  }
  install_faulting_vfs();
  sqlite3_auto_extension(reinterpret_cast<void (*)()>(on_open));
  const io::Path folder = words[1];
  if (words[0] == "start") {
    start(folder);
  } else if (words[0] == "audit") {
    audit(folder);
  } else if ((words[0] == "make" || words[0] == "count") && words.size() >= 3) {
    on_change = before_change;
    after_change = after_it;
    if (words.size() == 6) {
      for (std::size_t i = 0; i < step_words.size(); ++i) {
        progress.kill_step = words[3] == step_words[i] ? static_cast<Step>(i) : progress.kill_step;
      }
      progress.kill_at = std::stoull(words[4]);
      progress.after = words[5] == "after";
      progress.torn = words[5] == "torn";
    }
    make(folder, words[2]);
    if (words[0] == "count") {
      for (std::size_t i = 0; i < step_words.size(); ++i) {
        std::printf("%s %llu\n", step_words[i],
                    static_cast<unsigned long long>(progress.changes[i]));
      }
    }
  } else {
    return usage();
  }
  return 0;
}
