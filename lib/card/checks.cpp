#include "card/checks.h"

#include <algorithm>
#include <bit>

#include <fmt/format.h>

#include "card/plain_file.h"
#include "card/run_log.h"
#include "crypto/sha256.h"
#include "format/run_log.h"
#include "trust/job_rules.h"

namespace cardseal::card {
namespace {

static_assert(most_jobs == trust::kept_allotments);

Error config_error(const char* code, std::string what, std::string found, std::string expected,
                   std::string hint) {
  return {ErrorKind::config,   code,           std::move(what), {}, std::move(found),
          std::move(expected), std::move(hint)};
}

std::string model_names(const format::Facts& facts) {
  std::string out;
  for (const format::StationFacts& station : facts.stations.view()) {
    out += (out.empty() ? "" : ", ") + std::string(station.model.view());
  }
  return out;
}

// The key must be enrolled: a card that every station refuses is not worth making.
Try<const format::TrustedKey*> find_own_key(const MakeInput& in) {
  for (const format::TrustedKey& key : in.trust.list.keys.view()) {
    if (key.key == in.allot_key.public_key() && key.role == format::Role::allot &&
        key.state == format::KeyState::active) {
      return &key;
    }
  }
  return Unexpected(config_error(
      "key-not-enrolled", "this key may not sign allotments and card indexes",
      crypto::hex(in.allot_key.public_key()), "an active key of role allot on the trust list",
      "use the allot key, or have it added to the trust list"));
}

// Engineering works on boards again and again; a pilot lot holds the first article, which is read
// back and looked into.
bool is_looked_into(format::WorkClass work_class) {
  return work_class == format::WorkClass::engineering || work_class == format::WorkClass::pilot;
}

Error locked_for_good(const package::Package& package, format::WorkClass work_class) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = "lock-for-good";
  error.what = "boards of this card could never be read back or programmed again";
  error.place.file = package.file;
  error.found = "lock permanent, class ";
  error.found += format::work_class_words[static_cast<std::size_t>(work_class)];
  error.expected =
      "lock none or reversible for engineering and for a pilot lot with its first article";
  error.hint = "release the firmware once more without the lock, for these boards";
  return error;
}

// Boards of one cycle are programmed from one file, so they would leave with one number.
Try<void> check_one_slot(const CardJob& job, const format::Allotment& allotment) {
  const format::PlainFileFacts* plain = find_plain_file(job.package().facts, job.order.model);
  if (plain == nullptr || !is_for_each_unit(*plain) ||
      std::has_single_bit(allotment.enabled_slots)) {
    return {};
  }
  return Unexpected(
      config_error("unit-file-slots", "boards of one cycle would all get the number of one file",
                   fmt::format("{} slots on", std::popcount(allotment.enabled_slots)), "one slot",
                   "state it, such as --slots 1: this station takes a file for each board"));
}

std::string title_of(const CardJob& job) {
  return std::string(job.package().manifest.title.view());
}

std::string both(const CardJob& a, const CardJob& b) {
  return fmt::format("{} and {}", a.package().file, b.package().file);
}

// As people read a display: capitals or not is no difference.
std::string without_case(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](char c) {
    return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  });
  return text;
}

Try<void> check_titles(const CardJob& a, const CardJob& b) {
  if (a.package().manifest_digest == b.package().manifest_digest) {
    return Unexpected(config_error("package-twice", "one package is named twice for one card",
                                   both(a, b), "each package once",
                                   "state all its units at once, or make another card"));
  }
  if (without_case(title_of(a)) == without_case(title_of(b))) {
    return Unexpected(config_error("title-twice", "two packages on one card would show one title",
                                   fmt::format("{}, in {}", title_of(a), both(a, b)),
                                   "titles that an operator can tell apart",
                                   "put them on two cards, or release one with another title"));
  }
  return {};
}

// A station that took a newer release of a product takes no older one any more (366).
Try<void> check_products(const CardJob& a, const CardJob& b, const format::StationFacts& station) {
  const format::Manifest& one = a.package().manifest;
  const format::Manifest& other = b.package().manifest;
  if (station.reads == format::StationReads::plain_file || one.product != other.product) {
    return {};
  }
  return Unexpected(config_error(
      "product-twice",
      "two releases of one product on one card: a station that worked with the "
      "newer takes the older no more",
      fmt::format("{} {} and {}", one.product.view(), one.release.view(), other.release.view()),
      "one release of each product", "make a card for the newer one alone, or two cards"));
}

// 0 and O, 1, I and L: one for a person who keys it in, and on many displays.
std::string as_read(std::string name) {
  std::transform(name.begin(), name.end(), name.begin(), [](char c) {
    return c == 'O' ? '0' : c == 'I' || c == 'L' ? '1' : c == 'S' ? '5' : c == 'B' ? '8' : c;
  });
  return name;
}

// Without its ending, which a station's display often leaves out.
std::string stem_of(std::string_view path) {
  return std::string(path.substr(0, path.rfind('.')));
}

// What stands there is ours: a plain file could be taken for it.
Try<void> check_plain_folder(const CardJob& job) {
  const format::PlainFileFacts* plain = find_plain_file(job.package().facts, job.order.model);
  if (plain == nullptr || !plain->path.view().starts_with("CARDSEAL/")) {
    return {};
  }
  return Unexpected(config_error("plain-folder", "a plain file has no place in the folder CARDSEAL",
                                 std::string(plain->path.view()), "any other folder",
                                 "correct the station profile, and pack and sign again"));
}

Try<void> check_plain_names(const CardJob& a, const CardJob& b) {
  const format::PlainFileFacts* one = find_plain_file(a.package().facts, a.order.model);
  const format::PlainFileFacts* other = find_plain_file(b.package().facts, b.order.model);
  if (one == nullptr || other == nullptr ||
      as_read(stem_of(one->path.view())) != as_read(stem_of(other->path.view()))) {
    return {};
  }
  const bool same = one->path == other->path;
  return Unexpected(config_error(
      "plain-name-twice",
      same ? "two packages want one name for their plain file on the card"
           : "the plain files of two packages have names that are taken for one another",
      fmt::format("{} of {}, {} of {}", one->path.view(), a.package().file, other->path.view(),
                  b.package().file),
      "names that differ before the ending, and not only in 0 and O, 1, I and L, 5 and S, 8 and B",
      "give one release's station profile another file name, pack and sign it again; or make a "
      "card "
      "for each"));
}

// By hand somebody could state one range for both; a register never gives it twice.
Try<void> check_numbers(const CardJob& a, const CardJob& b) {
  const format::Maybe<format::Scheme>& one = a.package().manifest.scheme;
  const format::Maybe<format::Scheme>& other = b.package().manifest.scheme;
  const bool given = a.order.numbers == format::Numbers::fresh &&
                     b.order.numbers == format::Numbers::fresh; // else a register looked them up
  const bool apart = !given || a.order.first >= b.order.first + b.order.units ||
                     b.order.first >= a.order.first + a.order.units;
  if (!one.present || !other.present || one.value.id != other.value.id || apart) {
    return {};
  }
  return Unexpected(
      config_error("numbers-twice", "two packages on the card would get the same numbers",
                   fmt::format("{} of scheme {} from {} and from {}", a.order.units,
                               one.value.id.view(), a.order.first, b.order.first),
                   "a range for each package", "state --first for each package, in their order"));
}

// The log takes most of a card for many units; found out before any of it is made.
Try<void> check_log(const MakeInput& in, const format::StationFacts& station) {
  std::uint64_t units = 0;
  for (const CardJob& job : in.jobs) {
    units += job.order.units;
  }
  if (station.reads != format::StationReads::signed_package ||
      1 + units * format::log_records_a_unit < station.max_sectors) {
    return {};
  }
  return Unexpected(config_error(
      "log-too-long", "the run log for so many units does not fit on this station's card",
      fmt::format("{} units", units),
      fmt::format("fewer than {}", station.max_sectors / format::log_records_a_unit),
      "share the lot among several cards"));
}

bool same_card(const format::StationFacts& a, const format::StationFacts& b) {
  return a.reads == b.reads && a.partition == b.partition &&
         a.cluster_sectors == b.cluster_sectors && a.max_sectors == b.max_sectors &&
         a.volume_label == b.volume_label;
}

Try<void> check_count(const MakeInput& in, const format::StationFacts& station) {
  const std::size_t most = station.reads == format::StationReads::plain_file
                               ? format::CardIndex{}.packages.capacity()
                               : most_jobs;
  if (in.jobs.size() <= most) {
    return {};
  }
  return Unexpected(config_error(
      "too-many-packages",
      most == most_jobs ? "a station remembers fewer begun allotments than this card would hold"
                        : "a card's index holds fewer packages",
      fmt::format("{} packages", in.jobs.size()), fmt::format("at most {}", most),
      "share them among several cards"));
}

} // namespace

Try<const format::StationFacts*> find_model(const package::Package& package,
                                            const format::Id& model) {
  const format::StationFacts* station = find_station(package.facts, model);
  if (station != nullptr) {
    return station;
  }
  return Unexpected(config_error("station-model", "the release was not checked for this model",
                                 std::string(model.view()), model_names(package.facts),
                                 "name one of these models, or add its profile to the release"));
}

Try<std::vector<const format::StationFacts*>> models_of(const MakeInput& in) {
  std::vector<const format::StationFacts*> stations;
  for (const CardJob& job : in.jobs) {
    Try<const format::StationFacts*> found = find_model(job.package(), job.order.model);
    if (!found) {
      Error error = std::move(found).error();
      error.place.file = in.jobs.size() > 1 ? job.package().file : std::string();
      return Unexpected(std::move(error));
    }
    stations.push_back(*found);
    if (!same_card(*stations.front(), **found)) {
      return Unexpected(config_error(
          "station-model-differs", "two packages say different things of this model's cards",
          both(in.jobs.front(), job),
          "the same reads, partition, cluster size, size and label in both station profiles",
          "pack them with one station profile, or make a card for each"));
    }
  }
  return stations;
}

Try<void> check_job(const MakeInput& in, const CardJob& work, const format::StationFacts& station,
                    const format::Allotment& allotment) {
  const package::Package& package = work.package();
  Try<const format::TrustedKey*> own = find_own_key(in);
  if (!own) {
    return Unexpected(std::move(own).error());
  }
  if (is_looked_into(allotment.work_class) && package.manifest.lock == format::Lock::permanent) {
    return Unexpected(locked_for_good(package, allotment.work_class));
  }
  const trust::JobInput job{package.manifest, work.judged.verdict(), work.order.card_id, {}, {}};
  Outcome outcome =
      trust::judge_allotment_text(in.root.view(), in.trust.list, **own, job, allotment);
  if (outcome.ok() && (allotment.enabled_slots & ~station.slots) != 0) {
    outcome = refuse(Fault::station_slots);
  }
  const bool plain = station.reads == format::StationReads::plain_file;
  if (!outcome.ok()) {
    return Unexpected(package::refusal(outcome, package.file));
  }
  if (plain && !(work.judged.verdict().plain_file && format::is_yes(package.manifest.plain_file))) {
    return Unexpected(Error{ErrorKind::refused,
                            "plain-file-not-signed",
                            "quality did not sign this package for stations that check nothing",
                            {package.file, 0, 0, ""},
                            "plain-file no",
                            "plain-file yes",
                            "set plain-file in the release, and have quality sign with "
                            "--plain-file"});
  }
  if (station.reads != format::StationReads::signed_package &&
      allotment.numbers != format::Numbers::fresh) {
    return Unexpected(
        config_error(plain ? "plain-numbers" : "no-log-numbers",
                     plain ? "a station that reads plain files can't tell which number a board has"
                           : "without a log nobody can tell which of the card's boards were worked",
                     std::string(work.order.model.view()),
                     "a station that reads signed packages and writes a log",
                     "name one that does; or rework the boards with new numbers"));
  }
  Try<void> placed = check_plain_folder(work);
  return placed ? check_one_slot(work, allotment) : std::move(placed);
}

Try<void> check_together(const MakeInput& in,
                         const std::vector<const format::StationFacts*>& stations) {
  Try<void> good = check_count(in, *stations.front());
  for (std::size_t i = 0; i < in.jobs.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      const CardJob& a = in.jobs[j];
      const CardJob& b = in.jobs[i];
      good = good ? check_titles(a, b) : std::move(good);
      good = good ? check_products(a, b, *stations.front()) : std::move(good);
      good = good ? check_plain_names(a, b) : std::move(good);
      good = good ? check_numbers(a, b) : std::move(good);
    }
  }
  return good ? check_log(in, *stations.front()) : std::move(good);
}

} // namespace cardseal::card
