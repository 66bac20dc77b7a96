#include "card/verify.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "card/left_over.h"
#include "card/plain_file.h"
#include "card/roots.h"
#include "card/run_log.h"
#include "crypto/sha256.h"
#include "crypto/table.h"
#include "fat32/rules.h"
#include "format/root_chain.h"
#include "seal/trust_edit.h"
#include "seal/withdrawal.h"
#include "trust/job_rules.h"
#include "trust/withdrawal_rules.h"

namespace cardseal::card {
namespace {

constexpr std::uint64_t largest_file = 0x7FFF'FFFF;

Error plain_error(const char* code, const char* what) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = code;
  error.what = what;
  error.hint = "make the card again from the package; do not use this one";
  return error;
}

Error no_plain_file() {
  return plain_error("plain-file-missing",
                     "there is no run log, no word that there is none, and no plain firmware file");
}

class Verifier {
public:
  Verifier(fat32::Volume& volume, const seal::OwnerRoot& root, const std::string& card,
           LogState log, CardReport& report)
      : volume_(volume), root_(root), card_(card), log_(log), report_(report),
        crypto_(crypto::botan_table(botan_)) {}

  void run();

private:
  bool check_roots();
  bool check_trust();
  bool check_withdrawals();
  bool check_index();
  void check_files();
  void check_packages();
  void check_allotments();
  void check_allotment(const format::FileOnCard& listed);
  void check_plain_files();
  void check_plain_file(const CardPackage& on_card);
  bool check_unit_files(const CardPackage& on_card);
  void check_units_of(const CardPackage& on_card, const format::PlainFileFacts& facts,
                      const format::Allotment& allotment);
  bool is_equal(const fat32::Entry& entry, const Try<io::Bytes>& expected);
  void check_log();
  void list_unplanned();
  bool holds_planned(const std::string& folder) const;

  void problem(const Outcome& outcome, std::string_view path);
  void problem(Error error, std::string_view path);
  // The file's bytes; nothing, and a problem, when it is missing or unreadable.
  std::optional<io::Bytes> read(std::string_view path, std::uint64_t limit);
  std::optional<io::Bytes> read_listed(std::string_view path, std::uint32_t size,
                                       const format::Digest& digest);

  fat32::Volume& volume_;
  seal::OwnerRoot root_; // the newest that the card leads to
  const std::string& card_;
  LogState log_;
  CardReport& report_;
  crypto::BotanContext botan_;
  trust::CryptoTable crypto_;
  std::set<std::string> planned_;
};

void Verifier::problem(Error error, std::string_view path) {
  error.place.file = card_;
  error.place.item = path;
  report_.problems.push_back(std::move(error));
}

void Verifier::problem(const Outcome& outcome, std::string_view path) {
  problem(error_from(outcome, card_), path);
}

std::optional<io::Bytes> Verifier::read(std::string_view path, std::uint64_t limit) {
  planned_.insert(std::string(path));
  const fat32::Entry* entry = volume_.find(path);
  if (entry == nullptr || entry->folder) {
    problem(refuse(Fault::card_missing), path);
    return std::nullopt;
  }
  Try<io::Bytes> bytes = volume_.read_all(*entry, limit);
  if (!bytes) {
    problem(std::move(bytes).error(), path);
    return std::nullopt;
  }
  return std::move(*bytes);
}

std::optional<io::Bytes> Verifier::read_listed(std::string_view path, std::uint32_t size,
                                               const format::Digest& digest) {
  std::optional<io::Bytes> bytes = read(path, largest_file);
  if (!bytes) {
    return bytes;
  }
  if (bytes->size() != size) {
    Error error = error_from(refuse(Fault::card_size), card_);
    error.found = fmt::format("{} bytes", bytes->size());
    error.expected = fmt::format("{} bytes", size);
    problem(std::move(error), path);
    return std::nullopt;
  }
  const crypto::Digest found = crypto::sha256(*bytes);
  if (found != digest) {
    Error error = error_from(refuse(Fault::card_digest), card_);
    error.found = crypto::spell_digest(found);
    error.expected = crypto::spell_digest(digest);
    problem(std::move(error), path);
    return std::nullopt;
  }
  ++report_.files_checked;
  return bytes;
}

bool Verifier::check_roots() {
  if (volume_.find(roots_path) == nullptr) {
    if (root_.root.version > 1) {
      problem(refuse(Fault::root_older), roots_path);
    }
    return root_.root.version == 1;
  }
  const std::optional<io::Bytes> bytes = read(roots_path, format::root_chain_limit);
  if (!bytes) {
    return false;
  }
  Try<seal::OwnerRoot> newest = follow_roots(root_, *bytes, card_);
  if (!newest) {
    problem(std::move(newest).error(), roots_path);
    return false;
  }
  root_ = std::move(*newest);
  return true;
}

bool Verifier::check_trust() {
  seal::SignedText file;
  std::optional<io::Bytes> text = read(trust_path, format::TrustList::limit);
  if (!text) {
    return false;
  }
  file.text = std::move(*text);
  for (std::size_t i = 0; i < trust::max_signatures; ++i) {
    const std::string path = trust_signature_path(i);
    if (volume_.find(path) == nullptr) {
      break;
    }
    const std::optional<io::Bytes> bytes = read(path, crypto::Signature{}.size());
    crypto::Signature signature{};
    if (!bytes || bytes->size() != signature.size()) {
      problem(refuse(Fault::signature_form), path);
      return false;
    }
    std::copy(bytes->begin(), bytes->end(), signature.begin());
    file.signatures.push_back(signature);
  }
  format::TrustList list;
  format::Digest digest{};
  const Outcome outcome =
      trust::judge_trust_list(crypto_, root_.view(), file.text, seal::set_of(file), list, digest);
  if (!outcome.ok()) {
    problem(outcome, trust_path);
    return false;
  }
  report_.trust = list;
  return true;
}

bool Verifier::check_withdrawals() {
  for (std::size_t i = 0; i < trust::max_withdrawals; ++i) {
    const std::string path = withdrawal_path(i);
    if (volume_.find(path) == nullptr) {
      return true;
    }
    const std::optional<io::Bytes> text = read(path, format::Withdrawal::limit);
    const std::optional<io::Bytes> signature = read(withdrawal_signature_path(i), 64);
    if (!text || !signature) {
      return false;
    }
    format::Withdrawal withdrawal;
    const format::TrustedKey* signer = nullptr;
    const Outcome outcome = trust::judge_withdrawal(crypto_, root_.view(), *report_.trust, *text,
                                                    *signature, withdrawal, signer);
    if (!outcome.ok()) {
      problem(outcome, path);
      return false;
    }
    report_.withdrawals.push_back(withdrawal);
    if (!seal::stop_by(*report_.trust, withdrawal)) {
      problem(seal::trust_full("withdrawn packages", report_.trust->withdrawn.capacity()), path);
      return false;
    }
  }
  return true;
}

bool Verifier::check_index() {
  const std::optional<io::Bytes> text = read(index_path, format::CardIndex::limit);
  const std::optional<io::Bytes> signature = read(index_signature_path, 64);
  if (!text || !signature) {
    return false;
  }
  format::CardIndex index;
  const Outcome outcome =
      trust::judge_card_index(crypto_, root_.view(), *report_.trust, *text, *signature, index);
  if (!outcome.ok()) {
    problem(outcome, index_path);
    return false;
  }
  report_.index = index;
  return true;
}

void Verifier::check_files() {
  for (const format::FileOnCard& file : report_.index->files.view()) {
    (void)read_listed(file.path.view(), file.size, file.digest);
  }
}

void Verifier::check_packages() {
  for (const format::PackageOnCard& listed : report_.index->packages.view()) {
    std::optional<io::Bytes> bytes = read_listed(listed.path.view(), listed.size, listed.file);
    if (!bytes) {
      continue;
    }
    Try<package::Package> package =
        package::open(std::move(*bytes), std::string(listed.path.view()));
    if (!package) {
      problem(std::move(package).error(), listed.path.view());
      continue;
    }
    const package::Judgement judged = package::judge(*package, root_, *report_.trust);
    if (!judged.outcome.ok()) {
      problem(judged.outcome, listed.path.view());
    } else if (package->manifest_digest != listed.manifest) {
      problem(refuse(Fault::card_list), listed.path.view());
    } else {
      report_.packages.push_back(
          {std::string(listed.path.view()), std::move(*package), judged.verdict});
    }
  }
}

void Verifier::check_allotment(const format::FileOnCard& listed) {
  std::string signature_path(listed.path.view());
  signature_path.replace(signature_path.size() - std::min<std::size_t>(3, signature_path.size()), 3,
                         "S01");
  const std::optional<io::Bytes> text = read_listed(listed.path.view(), listed.size, listed.digest);
  const std::optional<io::Bytes> signature = read(signature_path, 64);
  if (!text || !signature) {
    return;
  }
  const format::TrustedKey* signer = nullptr;
  Outcome outcome = trust::find_allot_signer(crypto_, *report_.trust,
                                             {format::Allotment::kind, *text, *signature},
                                             Fault::allotment_signature, signer);
  format::Allotment allotment;
  if (outcome.ok()) {
    outcome = format::decode(*text, allotment);
  }
  if (!outcome.ok()) {
    return problem(outcome, listed.path.view());
  }
  const format::Digest digest = crypto::sha256(*text);
  for (const format::Withdrawal& withdrawal : report_.withdrawals) {
    if (withdrawal.allotment.present && withdrawal.allotment.value == digest) {
      return problem(refuse(Fault::allotment_withdrawn), listed.path.view());
    }
  }
  for (const CardPackage& on_card : report_.packages) {
    if (on_card.package.manifest_digest != allotment.manifest) {
      continue;
    }
    const trust::JobInput job{on_card.package.manifest, on_card.verdict, report_.index->card_id,
                              *text, *signature};
    outcome = trust::judge_allotment_text(root_.view(), *report_.trust, *signer, job, allotment);
    if (!outcome.ok()) {
      return problem(outcome, listed.path.view());
    }
    report_.allotments.push_back(allotment);
    return;
  }
  problem(refuse(Fault::allotment_manifest), listed.path.view());
}

void Verifier::check_allotments() {
  for (const format::FileOnCard& listed : report_.index->allotments.view()) {
    check_allotment(listed);
  }
}

// On a plain-file card the firmware of each package stands as a file of its own: it must be there,
// be the package's image, and be signed for stations that check nothing.
void Verifier::check_plain_files() {
  if (report_.index->log.present || format::works_without_log(*report_.index)) {
    return;
  }
  for (const CardPackage& on_card : report_.packages) {
    if (!on_card.verdict.plain_file || !format::is_yes(on_card.package.manifest.plain_file)) {
      problem(plain_error("plain-file-not-signed",
                          "quality did not sign this package for stations that check nothing"),
              on_card.path);
    }
    check_plain_file(on_card);
  }
  if (report_.packages.empty()) {
    problem(no_plain_file(), index_path);
  }
}

// For which model the card is stands nowhere on it: the file of any that the release names.
void Verifier::check_plain_file(const CardPackage& on_card) {
  std::string_view differs;
  for (const format::PlainFileFacts& facts : on_card.package.facts.plain_files.view()) {
    if (is_for_each_unit(facts)) {
      continue;
    }
    const fat32::Entry* entry = volume_.find(facts.path.view());
    if (entry == nullptr) {
      continue;
    }
    if (is_equal(*entry, write_plain_file(on_card.package, facts))) {
      return;
    }
    differs = facts.path.view();
  }
  if (!differs.empty()) {
    problem(refuse(Fault::card_digest), differs);
  } else if (!check_unit_files(on_card)) {
    problem(no_plain_file(), report_.packages.size() == 1 ? index_path : on_card.path);
  }
}

bool Verifier::is_equal(const fat32::Entry& entry, const Try<io::Bytes>& expected) {
  if (!expected || entry.size != expected->size()) {
    return false;
  }
  const Try<io::Bytes> bytes = volume_.read_all(entry, largest_file);
  return bytes && *expected == *bytes;
}

// A file for each unit of the package's allotment, each with its serial. False: none of them is
// there.
bool Verifier::check_unit_files(const CardPackage& on_card) {
  for (const format::PlainFileFacts& facts : on_card.package.facts.plain_files.view()) {
    for (const format::Allotment& allotment : report_.allotments) {
      if (allotment.manifest == on_card.package.manifest_digest && is_for_each_unit(facts) &&
          volume_.find(unit_path(facts, allotment.first)) != nullptr) {
        check_units_of(on_card, facts, allotment);
        return true;
      }
    }
  }
  return false;
}

void Verifier::check_units_of(const CardPackage& on_card, const format::PlainFileFacts& facts,
                              const format::Allotment& allotment) {
  for (std::uint64_t i = 0; i < allotment.units; ++i) {
    const std::uint64_t ordinal = allotment.first + i;
    const std::string path = unit_path(facts, ordinal);
    const fat32::Entry* entry = path.empty() ? nullptr : volume_.find(path);
    planned_.insert(path);
    if (entry == nullptr) {
      problem(refuse(Fault::card_missing), path);
    } else if (!is_equal(*entry, write_unit_file(on_card.package, facts, allotment, ordinal))) {
      problem(refuse(Fault::card_digest), path);
    } else {
      ++report_.files_checked;
    }
  }
}

void Verifier::check_log() {
  if (!report_.index->log.present) {
    return;
  }
  const format::LogExtent extent = report_.index->log.value;
  const fat32::Entry* entry = volume_.find(log_path);
  planned_.insert(std::string(log_path));
  const std::uint64_t size = std::uint64_t{extent.count} * format::fat::sector_bytes;
  if (entry == nullptr || entry->size != size || entry->extents.size() != 1 ||
      entry->extents[0].first_lba != extent.first) {
    return problem(refuse(Fault::card_log), log_path);
  }
  if (log_ == LogState::returned) {
    return;
  }
  const Try<io::Bytes> log = volume_.read_all(*entry, largest_file);
  if (!log || *log != empty_log(report_.index->card_id, extent.count)) {
    Error error;
    error.kind = ErrorKind::refused;
    error.code = "log-not-empty";
    error.what = "the run log is not in its initial pattern";
    error.hint = "a card that was used is not sent out again; make a new one";
    problem(std::move(error), log_path);
  }
}

bool Verifier::holds_planned(const std::string& folder) const {
  const auto at = planned_.lower_bound(folder + '/');
  return at != planned_.end() && at->starts_with(folder + '/');
}

void Verifier::list_unplanned() {
  for (const fat32::Entry& entry : volume_.entries()) {
    const bool planned = entry.folder ? holds_planned(entry.path) : planned_.count(entry.path) != 0;
    if (!planned) {
      auto& list = is_left_over(entry, planned_) ? report_.left_over : report_.unplanned;
      list.push_back(entry.path + (entry.folder ? "/" : ""));
    }
  }
}

void Verifier::run() {
  const bool roots = check_roots();
  report_.root_version = root_.root.version;
  if (!roots || !check_trust() || !check_withdrawals() || !check_index()) {
    return;
  }
  check_files();
  check_packages();
  check_allotments();
  check_plain_files();
  check_log();
  list_unplanned();
}

bool content_sound(const CardReport& report) {
  return report.structure.count(Severity::refuse) == 0 && report.problems.empty() &&
         report.unplanned.empty() && report.index.has_value();
}

} // namespace

bool CardReport::sound() const {
  return content_sound(*this) && structure.count(Severity::warn) == 0 && left_over.empty();
}

bool CardReport::touched() const {
  const std::size_t marks = structure.count(fat32::rules::dirty);
  return content_sound(*this) && structure.count(Severity::warn) == marks &&
         (marks != 0 || !left_over.empty());
}

Try<CardReport> verify_card(fat32::SectorSource& source, const seal::OwnerRoot& root,
                            LogState log) {
  Try<fat32::CheckReport> checked = fat32::check_volume(source);
  if (!checked) {
    return Unexpected(std::move(checked).error());
  }
  CardReport report;
  report.structure = checked->findings;
  Try<fat32::Volume> volume = fat32::Volume::of(source, *checked);
  if (!volume) {
    if (volume.error().kind != ErrorKind::refused) {
      return Unexpected(std::move(volume).error());
    }
    report.problems.push_back(std::move(volume).error());
    return report;
  }
  const std::string name = source.name();
  Verifier(*volume, root, name, log, report).run();
  return report;
}

} // namespace cardseal::card
