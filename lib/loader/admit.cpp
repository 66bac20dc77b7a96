#include <new>

#include "format/codec.h"
#include "format/run_log.h"
#include "loader/need.h"
#include "loader/station.h"
#include "trust/root_rules.h"

namespace cardseal::loader {
namespace {

using SignatureBytes = std::array<std::uint8_t, trust::signature_size>;

constexpr std::string_view index_path = "CARDSEAL/CARD.TXT";
constexpr std::string_view index_signature_path = "CARDSEAL/CARD.S01";
constexpr std::string_view roots_path = "CARDSEAL/ROOTS.TAR";
constexpr std::string_view trust_path = "CARDSEAL/TRUST.TXT";
constexpr std::string_view withdrawal_path = "CARDSEAL/W01.TXT"; // W02 and so on
constexpr std::string_view log_path = "CARDSEAL/LOG.CSV";
constexpr std::string_view text_extension = ".TXT";

// "CARDSEAL/A01.S02" beside "CARDSEAL/A01.TXT" for 1; false when the text's path ends otherwise.
bool signature_path(std::string_view text_path, std::size_t index, format::CardPath& out) {
  const std::size_t keep = text_path.size() - text_extension.size();
  if (text_path.size() <= text_extension.size() || slice(text_path, keep) != text_extension ||
      !out.set(text_path)) {
    return false;
  }
  out.bytes[keep + 1] = 'S';
  out.bytes[keep + 2] = '0';
  out.bytes[keep + 3] = static_cast<char>('1' + index);
  return true;
}

Outcome read_signature(const Volume& volume, std::string_view path, SignatureBytes& out) {
  CardFile file;
  Outcome outcome = find_file(volume, path, file);
  if (outcome.ok()) {
    outcome = need(file.size == out.size(), Fault::signature_form);
  }
  if (!outcome.ok() || file.size != out.size()) {
    return outcome;
  }
  const format::Source source = source_of(file);
  return source.read(source.context, 0, out);
}

// The part of a card's log that holds the records of `units` units behind those of `before` others.
format::LogExtent share_of(const format::LogExtent& log, std::uint32_t before,
                           std::uint32_t units) {
  if (log.count == 0) { // the card has none
    return {};
  }
  const std::uint32_t records = log.count - 1; // behind the header; a signed log has one sector
  const std::uint64_t skip = std::uint64_t{format::log_records_a_unit} * before;
  const std::uint64_t wanted = std::uint64_t{format::log_records_a_unit} * units;
  if (skip >= records) {
    return {log.first + log.count, 0};
  }
  const auto skipped = static_cast<std::uint32_t>(skip);
  const std::uint32_t left = records - skipped;
  return {log.first + 1 + skipped, wanted < left ? static_cast<std::uint32_t>(wanted) : left};
}

// The signatures beside the trust list, from S01 to the first that is not there.
Outcome read_list_signatures(const Volume& volume,
                             std::array<SignatureBytes, trust::max_signatures>& bytes,
                             trust::SignatureSet& set) {
  for (std::size_t i = 0; i < trust::max_signatures; ++i) {
    format::CardPath path;
    signature_path(trust_path, i, path);
    Outcome outcome = read_signature(volume, path.view(), bytes[i]);
    if (outcome.fault == Fault::card_missing) {
      return done;
    }
    outcome.item = static_cast<std::uint16_t>(i);
    if (!outcome.ok()) {
      return outcome;
    }
    set.signatures[i] = bytes[i];
    ++set.count;
  }
  return done;
}

} // namespace

Outcome Station::admit(std::uint16_t choice) {
  admitted_ = finished_ = false;
  streaming_ = false;
  jobs_ = 0;
  Outcome outcome = open_volume(card_, arena_.volume);
  if (outcome.ok()) {
    outcome = memory_.load();
  }
  if (!outcome.ok()) {
    return outcome;
  }
  new (&arena_.phase.roots) Arena::Roots();
  trust::RootView root{arena_.phase.roots.now, memory_.head().owner};
  outcome = find_root(root);
  if (outcome.ok()) {
    outcome = walk_roots(root);
  }
  if (outcome.ok()) {
    outcome = judge_list(root);
  }
  if (outcome.ok()) {
    outcome = judge_withdrawals(root);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  // From here on only the root's version counts; its keys make room for the card index.
  format::Root version_only;
  version_only.version = arena_.phase.roots.now.version;
  const trust::RootView later{version_only, root.owner};
  new (&arena_.phase.index) format::CardIndex();
  Chosen chosen;
  outcome = judge_index(later);
  if (outcome.ok()) {
    outcome = judge_log();
  }
  if (outcome.ok()) {
    outcome = judge_files();
  }
  if (outcome.ok()) {
    outcome = choose(choice, chosen);
  }
  if (outcome.ok()) {
    new (&arena_.phase.job) Job();
    outcome = judge_job(later, chosen);
  }
  admitted_ = outcome.ok();
  finished_ = outcome.fault == Fault::allotment_used_up;
  return outcome;
}

Outcome Station::read_whole(std::string_view path, ByteSpan buffer, ByteSpan& text) {
  CardFile file;
  Outcome outcome = find_file(arena_.volume, path, file);
  if (outcome.ok()) {
    outcome = need(file.size <= buffer.size(), Fault::text_too_long);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  text = buffer.first(file.size <= buffer.size() ? file.size : buffer.size());
  const format::Source source = source_of(file);
  return source.read(source.context, 0, text);
}

// The root as enrolment or the newest card left it: its own text says whose it is.
Outcome Station::find_root(trust::RootView& root) {
  ByteSpan text;
  Outcome outcome = memory_.read_root(crypto_, arena_.text, text);
  if (outcome.ok()) {
    outcome = need(format::decode(text, arena_.phase.roots.now).ok(), Fault::state_damaged);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  const format::Maybe<format::Digest>& stated = root.root.owner;
  const format::Digest owner = stated.present ? stated.value : memory_.head().root_digest;
  return need(owner == root.owner, Fault::root_other_owner);
}

// The root in force moves on through the card's roots, one step at a time, each kept before the
// next is looked at. Roots before the one in force are passed over: it vouched for nothing but
// itself.
Outcome Station::walk_roots(const trust::RootView& root) {
  CardFile file;
  Outcome outcome = find_file(arena_.volume, roots_path, file);
  if (outcome.fault == Fault::card_missing) {
    return need(root.root.version == 1, Fault::root_older);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  const format::Source source = source_of(file);
  format::RootChain chain(source);
  format::RootExtents extents;
  std::uint32_t newest = 0;
  while (outcome.ok() && chain.next(extents)) {
    newest = extents.version;
    if (newest >= root.root.version) {
      outcome = judge_root(root, source, extents);
    }
  }
  if (outcome.ok()) {
    outcome = chain.outcome();
  }
  return outcome.ok() ? need(newest >= root.root.version, Fault::root_older) : outcome;
}

Outcome Station::judge_root(const trust::RootView& root, const format::Source& source,
                            const format::RootExtents& extents) {
  const ByteSpan text = ByteSpan(arena_.text).first(extents.text.size);
  Outcome outcome = source.read(source.context, extents.text.offset, text);
  if (outcome.ok() && extents.version == root.root.version) {
    return need(trust::digest_of(crypto_, text) == memory_.head().root_digest, Fault::root_differs,
                extents.text.offset);
  }
  std::array<SignatureBytes, trust::max_signatures> bytes{};
  trust::SignatureSet set;
  for (const format::Extent& each : extents.signatures.view()) {
    const ByteSpan signature = ByteSpan(bytes[set.count]).first(each.size);
    if (outcome.ok()) {
      outcome = source.read(source.context, each.offset, signature);
    }
    set.signatures[set.count++] = signature;
  }
  Arena::Roots& roots = arena_.phase.roots;
  if (outcome.ok()) {
    new (&roots.next) format::Root();
    outcome =
        trust::judge_next_root(crypto_, root, memory_.head().root_digest, text, set, roots.next);
  }
  if (outcome.ok()) {
    outcome = memory_.keep_root(trust::digest_of(crypto_, text), text);
  }
  if (outcome.ok()) {
    roots.now = roots.next;
  }
  return outcome;
}

// The newest list of card and memory; a newer one from the card is kept before anything else is
// looked at.
Outcome Station::judge_list(const trust::RootView& root) {
  CardFile file;
  Outcome outcome = find_file(arena_.volume, trust_path, file);
  const bool kept = memory_.head().trust_size > 0;
  if (outcome.fault == Fault::card_missing) {
    return kept ? recall_list(root) : need(false, Fault::trust_missing);
  }
  bool from_card = false;
  if (outcome.ok()) {
    outcome = judge_card_list(root, from_card);
  }
  return outcome.ok() && !from_card ? recall_list(root) : outcome;
}

Outcome Station::judge_card_list(const trust::RootView& root, bool& use) {
  std::array<SignatureBytes, trust::max_signatures> signatures{};
  trust::SignatureSet set;
  ByteSpan text;
  Outcome outcome = read_whole(trust_path, arena_.text, text);
  if (outcome.ok()) {
    outcome = read_list_signatures(arena_.volume, signatures, set);
  }
  format::Digest digest{};
  if (outcome.ok()) {
    new (&arena_.list) format::TrustList();
    outcome = trust::judge_trust_list(crypto_, root, text, set, arena_.list, digest);
  }
  if (outcome.fault == Fault::trust_root && arena_.list.root_version > root.root.version) {
    return need(false, Fault::root_newer);
  }
  const format::StateHead& head = memory_.head();
  trust::Standing standing = trust::Standing::newer;
  if (outcome.ok() && head.trust_size > 0) {
    outcome =
        trust::compare_lists({head.trust_root_version, head.trust_sequence, head.trust_digest},
                             {arena_.list.root_version, arena_.list.sequence, digest}, standing);
  }
  use = standing != trust::Standing::older;
  return outcome.ok() && standing == trust::Standing::newer
             ? memory_.keep_trust(crypto_, arena_.list, digest, text)
             : outcome;
}

// A list that was signed under an earlier root counts no more: its signers may be why the root was
// changed.
Outcome Station::recall_list(const trust::RootView& root) {
  ByteSpan text;
  Outcome outcome =
      need(memory_.head().trust_root_version == root.root.version, Fault::trust_missing);
  if (outcome.ok()) {
    outcome = memory_.read_trust(crypto_, arena_.text, text);
  }
  new (&arena_.list) format::TrustList();
  return outcome.ok() ? need(format::decode(text, arena_.list).ok(), Fault::state_damaged)
                      : outcome;
}

// What the card stops is kept before the rest of the card is looked at, so that it stays stopped
// although this card may be refused. Texts are judged by the list alone, and stopped keys are
// applied behind them all: a card is judged the same way whenever it comes. With a full table no
// card is good any more, since the stop that found no room may be one of what this card brings.
Outcome Station::judge_withdrawals(const trust::RootView& root) {
  Outcome outcome = done;
  bool there = true;
  for (std::size_t i = 0; outcome.ok() && there && i < trust::max_withdrawals; ++i) {
    format::CardPath path;
    path.set(withdrawal_path);
    path.bytes[withdrawal_path.size() - text_extension.size() - 1] = static_cast<char>('1' + i);
    outcome = judge_withdrawal(root, path.view(), there);
    outcome.item = outcome.ok() ? outcome.item : static_cast<std::uint16_t>(i);
  }
  if (outcome.ok()) {
    outcome = need(!memory_.stops_full(), Fault::state_room);
  }
  return outcome.ok() ? memory_.stop_keys(crypto_, arena_.list) : outcome;
}

Outcome Station::judge_withdrawal(const trust::RootView& root, std::string_view path, bool& there) {
  format::CardPath beside;
  SignatureBytes signature{};
  ByteSpan text;
  Outcome outcome = read_whole(path, ByteSpan(arena_.text).first(format::Withdrawal::limit), text);
  there = outcome.fault != Fault::card_missing;
  if (!there) {
    return done;
  }
  signature_path(path, 0, beside);
  if (outcome.ok()) {
    outcome = read_signature(arena_.volume, beside.view(), signature);
  }
  format::Withdrawal withdrawal;
  const format::TrustedKey* signer = nullptr;
  if (outcome.ok()) {
    outcome =
        trust::judge_withdrawal(crypto_, root, arena_.list, text, signature, withdrawal, signer);
  }
  return outcome.ok() ? keep_stop(trust::stop_of(withdrawal), signer) : outcome;
}

// A stop that is known is passed over: its signer may have been stopped after it, or by it. One
// that is not counts only when its signer was not stopped before.
Outcome Station::keep_stop(const trust::Stop& stop, const format::TrustedKey* signer) {
  const format::Digest mark = trust::mark_of(crypto_, stop);
  bool known = trust::is_stopped_by(arena_.list, stop);
  Outcome outcome = known ? done : memory_.is_withdrawn(mark, known);
  if (!outcome.ok() || known) {
    return outcome;
  }
  bool late = false;
  if (signer != nullptr) {
    outcome =
        memory_.is_withdrawn(trust::mark_of(crypto_, {trust::StopKind::key, signer->key}), late);
  }
  if (outcome.ok()) {
    outcome = need(!late, Fault::withdrawal_signature);
  }
  return outcome.ok() ? memory_.keep_withdrawn(mark) : outcome;
}

Outcome Station::judge_index(const trust::RootView& root) {
  SignatureBytes signature{};
  ByteSpan text;
  Outcome outcome = read_whole(index_path, arena_.text, text);
  if (outcome.ok()) {
    outcome = read_signature(arena_.volume, index_signature_path, signature);
  }
  format::CardIndex& index = arena_.phase.index;
  if (outcome.ok()) {
    outcome = trust::judge_card_index(crypto_, root, arena_.list, text, signature, index);
  }
  if (outcome.fault == Fault::index_root && index.root_version > root.root.version) {
    return need(false, Fault::root_newer);
  }
  return outcome;
}

// The log's directory entry can't steer a write: only an extent that was signed counts. A station
// that writes none takes no card with one, whose units would come back as never begun.
Outcome Station::judge_log() {
  const format::CardIndex& index = arena_.phase.index;
  const bool writes_none = memory_.head().no_log;
  if (!index.log.present || writes_none) {
    const bool agreed = writes_none && format::works_without_log(index);
    return need(agreed || index.allotments.count == 0, Fault::card_log);
  }
  CardFile file;
  const Outcome outcome = find_file(arena_.volume, log_path, file);
  format::LogExtent found;
  const format::LogExtent& stated = index.log.value;
  const bool good = outcome.ok() && extent_of(file, found) && found.first == stated.first &&
                    found.count == stated.count;
  return outcome.fault == Fault::card_read ? outcome : need(good, Fault::card_log, stated.first);
}

Outcome Station::judge_file(std::string_view path, std::uint32_t size, const format::Digest& digest,
                            std::uint16_t item) {
  CardFile file;
  format::Digest found{};
  Outcome outcome = find_file(arena_.volume, path, file);
  if (outcome.ok()) {
    outcome = need(file.size == size, Fault::card_size);
  }
  if (outcome.ok()) {
    const format::Source source = source_of(file);
    outcome = trust::digest_of_extent(crypto_, source, {0, file.size}, arena_.text, found);
  }
  if (outcome.ok()) {
    outcome = need(found == digest, Fault::card_digest);
  }
  outcome.item = outcome.ok() ? outcome.item : item;
  return outcome;
}

Outcome Station::judge_files() {
  const format::CardIndex& index = arena_.phase.index;
  Outcome outcome = done;
  std::uint16_t item = 0;
  for (const format::PackageOnCard& package : index.packages.view()) {
    outcome = outcome.ok() ? judge_file(package.path.view(), package.size, package.file, item++)
                           : outcome;
  }
  for (const auto files : {index.allotments.view(), index.files.view()}) {
    for (const format::FileOnCard& file : files) {
      outcome =
          outcome.ok() ? judge_file(file.path.view(), file.size, file.digest, item++) : outcome;
    }
  }
  return outcome;
}

// Read again, so hashed again: it must be the text that the signed index names.
Outcome Station::read_allotment(std::uint16_t i, format::Allotment& allotment) {
  const format::FileOnCard& file = arena_.phase.index.allotments.items[i];
  ByteSpan text;
  Outcome outcome =
      read_whole(file.path.view(), ByteSpan(arena_.text).first(format::Allotment::limit), text);
  if (outcome.ok()) {
    outcome = need(trust::digest_of(crypto_, text) == file.digest, Fault::card_digest);
  }
  if (outcome.ok()) {
    outcome = format::decode(text, allotment);
  }
  outcome.item = outcome.ok() ? outcome.item : i;
  return outcome;
}

bool Station::find_package(const format::Digest& manifest, format::PackageOnCard& package) const {
  for (const format::PackageOnCard& each : arena_.phase.index.packages.view()) {
    if (each.manifest == manifest) {
      package = each;
      return true;
    }
  }
  return false;
}

// A job is an allotment that names this station and whose package is on the card. What stands
// behind the chosen one is only counted: a fault there is no reason against it.
Outcome Station::choose(std::uint16_t choice, Chosen& chosen) {
  const format::CardIndex& index = arena_.phase.index;
  const bool anyone = switched_off(Fault::allotment_station);
  bool named = false;
  std::uint32_t units_before = 0;
  for (std::uint16_t i = 0; i < index.allotments.count; ++i) {
    format::Allotment allotment;
    format::PackageOnCard package;
    const Outcome outcome = read_allotment(i, allotment);
    if (!outcome.ok()) {
      return jobs_ > choice ? done : outcome;
    }
    units_before += allotment.units;
    const bool ours = allotment.station == memory_.head().station || anyone;
    named = named || ours;
    if (ours && find_package(allotment.manifest, package) && jobs_++ == choice) {
      chosen = {package, index.allotments.items[i], index.card_id,
                share_of(index.log.value, units_before - allotment.units, allotment.units)};
    }
  }
  return trust::Checks()
      .need(index.allotments.count > 0 && (jobs_ == 0 || jobs_ > choice), Fault::card_empty)
      .need(named, Fault::allotment_station)
      .need(jobs_ > 0, Fault::card_list)
      .outcome();
}

Outcome Station::judge_job(const trust::RootView& root, const Chosen& chosen) {
  Job& job = arena_.phase.job;
  job.card_id = chosen.card_id;
  job.log = chosen.log;
  Outcome outcome = find_file(arena_.volume, chosen.package.path.view(), job.file);
  if (outcome.ok()) {
    outcome = need(job.file.size == chosen.package.size, Fault::card_size);
  }
  if (outcome.ok()) {
    job.package = source_of(job.file);
    outcome = trust::judge_package(crypto_, root, arena_.list, job.package, arena_.text,
                                   job.manifest, job.verdict);
  }
  if (outcome.ok()) {
    outcome = need(job.verdict.manifest_digest == chosen.package.manifest, Fault::card_list);
  }
  if (outcome.ok()) {
    outcome = judge_past();
  }
  return outcome.ok() ? judge_work(root, chosen) : outcome;
}

// Against what this station remembers: withdrawals of any list it met, and the product's mark.
Outcome Station::judge_past() {
  const Job& job = arena_.phase.job;
  bool withdrawn = false;
  std::uint8_t index = 0;
  trust::ProductMark mark;
  Outcome outcome = memory_.is_withdrawn(
      trust::mark_of(crypto_, {trust::StopKind::package, job.verdict.manifest_digest}), withdrawn);
  if (outcome.ok()) {
    outcome = need(!withdrawn, Fault::manifest_withdrawn);
  }
  if (outcome.ok()) {
    outcome = memory_.find_mark(job.manifest.product, index, mark);
  }
  if (outcome.ok()) {
    outcome = need(index < format::state::mark_count, Fault::state_room);
  }
  const bool known = index < memory_.head().mark_count;
  return outcome.ok() && known ? trust::judge_mark(job.manifest, job.verdict.manifest_digest, mark)
                               : outcome;
}

Outcome Station::judge_work(const trust::RootView& root, const Chosen& chosen) {
  Job& job = arena_.phase.job;
  format::CardPath path;
  SignatureBytes signature{};
  ByteSpan text;
  KeptAllotments kept;
  Outcome outcome = need(signature_path(chosen.allotment.path.view(), 0, path), Fault::card_list);
  if (outcome.ok()) {
    outcome = read_whole(chosen.allotment.path.view(), arena_.text, text);
  }
  if (outcome.ok()) {
    outcome = read_signature(arena_.volume, path.view(), signature);
  }
  bool withdrawn = false;
  if (outcome.ok()) {
    const trust::Stop stop{trust::StopKind::allotment, trust::digest_of(crypto_, text)};
    outcome = memory_.is_withdrawn(trust::mark_of(crypto_, stop), withdrawn);
  }
  if (outcome.ok()) {
    outcome = need(!withdrawn, Fault::allotment_withdrawn);
  }
  if (outcome.ok()) {
    outcome = memory_.read_kept(kept);
  }
  const format::StateHead& head = memory_.head();
  const trust::StationView station{head.station, head.enrolment, memory_.limits(), kept.view()};
  if (outcome.ok()) {
    outcome = trust::judge_allotment(crypto_, root, arena_.list, station,
                                     {job.manifest, job.verdict, job.card_id, text, signature},
                                     job.allotment, job.used);
  }
  if (outcome.ok()) {
    outcome = trust::judge_settings(job.manifest, station.limits);
  }
  return outcome.ok() ? judge_units() : outcome;
}

// Both ends of the range must have a unit: a width or placement that can't take a number would
// otherwise show half way through the lot.
Outcome Station::judge_units() const {
  const Job& job = arena_.phase.job;
  Outcome outcome = done;
  const std::uint64_t count = job.allotment.count;
  for (const std::uint64_t step : {std::uint64_t{0}, count - 1}) {
    unit::UnitText text;
    unit::UnitBytes bytes;
    if (outcome.ok() && job.manifest.scheme.present) {
      const std::uint64_t ordinal = format::ordinal_at(job.allotment, step);
      const unit::Serials serials = unit::serials_of(job.manifest, &job.allotment);
      outcome = unit::text_of(serials, ordinal, text);
      for (const format::Placement& placement : job.manifest.placements.view()) {
        outcome = outcome.ok() ? unit::bytes_of(serials, placement, ordinal, bytes) : outcome;
      }
    }
  }
  return outcome;
}

} // namespace cardseal::loader
