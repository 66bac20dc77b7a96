#include "card/make.h"

#include <algorithm>

#include <fmt/format.h>

#include "card/plain_file.h"
#include "card/roots.h"
#include "card/run_log.h"
#include "card/sheet.h"
#include "crypto/sha256.h"
#include "fat32/writer.h"
#include "format/run_log.h"
#include "trust/job_rules.h"

namespace cardseal::card {
namespace {

Error config_error(const char* code, std::string what, std::string found, std::string expected,
                   std::string hint) {
  return {ErrorKind::config,   code,           std::move(what), {}, std::move(found),
          std::move(expected), std::move(hint)};
}

std::string models_of(const format::Facts& facts) {
  std::string out;
  for (const format::StationFacts& station : facts.stations.view()) {
    out += (out.empty() ? "" : ", ") + std::string(station.model.view());
  }
  return out;
}

std::uint32_t enabled_slots(const package::Package& package, const CardOrder& order,
                            const format::StationFacts& station) {
  return order.enabled_slots != 0 ? order.enabled_slots : package.manifest.slots & station.slots;
}

format::Allotment allotment_of(const MakeInput& in, const format::StationFacts& station) {
  const format::Manifest& m = in.package.manifest;
  format::Allotment a;
  a.owner = in.root.owner;
  a.manifest = in.package.manifest_digest;
  a.product = m.product;
  a.card = in.order.card_id;
  a.station = in.order.station;
  a.enrolment = in.order.enrolment;
  a.serial = in.order.serial;
  a.units = in.order.units;
  a.work_class = in.order.work_class;
  a.work_order = in.order.work_order;
  a.date_code = in.order.date_code;
  a.enabled_slots = enabled_slots(in.package, in.order, station);
  a.register_entry = in.order.register_entry;
  if (m.scheme.present) {
    a.scheme.set(m.scheme.value.id);
    a.first = in.order.first;
    a.count = in.order.units;
  }
  return a;
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

// The log takes most of a card for many units; found out before any of it is made.
Try<void> check_log(const MakeInput& in, const format::StationFacts& station) {
  const std::uint64_t sectors = log_sectors(in.order.units);
  if (station.reads == format::StationReads::plain_file || sectors < station.max_sectors) {
    return {};
  }
  return Unexpected(config_error(
      "log-too-long", "the run log for so many units does not fit on this station's card",
      fmt::format("{} units", in.order.units),
      fmt::format("fewer than {}", station.max_sectors / format::log_records_a_unit),
      "share the lot among several cards"));
}

// Engineering works on boards again and again; a pilot lot holds the first article, which is read
// back and looked into.
bool is_looked_into(format::WorkClass work_class) {
  return work_class == format::WorkClass::engineering || work_class == format::WorkClass::pilot;
}

Error locked_for_good(const MakeInput& in, format::WorkClass work_class) {
  Error error;
  error.kind = ErrorKind::refused;
  error.code = "lock-for-good";
  error.what = "boards of this card could never be read back or programmed again";
  error.place.file = in.package.file;
  error.found = "lock permanent, class ";
  error.found += format::work_class_words[static_cast<std::size_t>(work_class)];
  error.expected =
      "lock none or reversible for engineering and for a pilot lot with its first article";
  error.hint = "release the firmware once more without the lock, for these boards";
  return error;
}

// The checks a station would make, before anything is made.
Try<void> check_order(const MakeInput& in, const format::StationFacts& station,
                      const format::Allotment& allotment) {
  const package::Judgement judged = package::judge(in.package, in.root, in.trust.list);
  if (!judged.outcome.ok()) {
    return Unexpected(package::refusal(judged.outcome, in.package.file));
  }
  Try<const format::TrustedKey*> own = find_own_key(in);
  if (!own) {
    return Unexpected(std::move(own).error());
  }
  if (is_looked_into(allotment.work_class) && in.package.manifest.lock == format::Lock::permanent) {
    return Unexpected(locked_for_good(in, allotment.work_class));
  }
  const trust::JobInput job{in.package.manifest, judged.verdict, in.order.card_id, {}, {}};
  Outcome outcome =
      trust::judge_allotment_text(in.root.view(), in.trust.list, **own, job, allotment);
  if (outcome.ok() && (allotment.enabled_slots & ~station.slots) != 0) {
    outcome = refuse(Fault::station_slots);
  }
  const bool plain = station.reads == format::StationReads::plain_file;
  if (!outcome.ok()) {
    return Unexpected(package::refusal(outcome, in.package.file));
  }
  if (plain && !(judged.verdict.plain_file && format::is_yes(in.package.manifest.plain_file))) {
    return Unexpected(Error{ErrorKind::refused,
                            "plain-file-not-signed",
                            "quality did not sign this package for stations that check nothing",
                            {in.package.file, 0, 0, ""},
                            "plain-file no",
                            "plain-file yes",
                            "set plain-file in the release, and have quality sign with "
                            "--plain-file"});
  }
  return {};
}

crypto::Signature sign(const MakeInput& in, std::string_view kind, ByteView text) {
  return in.rehearse ? crypto::Signature{} : seal::sign(in.allot_key, kind, text);
}

void add(std::vector<CardFile>& files, std::string_view path, ByteView content) {
  files.push_back({std::string(path), {content.begin(), content.end()}});
}

void add_trust(std::vector<CardFile>& files, const seal::OwnerTrust& trust) {
  add(files, trust_path, trust.file.text);
  for (std::size_t i = 0; i < trust.file.signatures.size(); ++i) {
    add(files, trust_signature_path(i), trust.file.signatures[i]);
  }
  for (std::size_t i = 0; i < trust.withdrawals.size(); ++i) {
    add(files, withdrawal_path(i), trust.withdrawals[i].file.text);
    add(files, withdrawal_signature_path(i), trust.withdrawals[i].file.signatures[0]);
  }
}

Try<std::vector<CardFile>> collect(const MakeInput& in, const SheetInput& sheet_input, Card& card) {
  std::vector<CardFile> files;
  if (sheet_input.plain != nullptr) {
    Try<io::Bytes> plain = write_plain_file(in.package, *sheet_input.plain);
    if (!plain) {
      return Unexpected(std::move(plain).error());
    }
    add(files, sheet_input.plain->path.view(), *plain);
  }
  Try<std::string> sheet = setup_sheet(sheet_input);
  if (!sheet) {
    return Unexpected(std::move(sheet).error());
  }
  card.setup_sheet = *sheet;
  add(files, setup_path, bytes_of(card.setup_sheet));
  add(files, readme_path, bytes_of(readme(sheet_input)));
  if (in.root.root.version > 1) {
    Try<io::Bytes> roots = roots_file(in.root);
    if (!roots) {
      return Unexpected(std::move(roots).error());
    }
    add(files, roots_path, *roots);
  }
  add_trust(files, in.trust);
  add(files, package_path, in.package.bytes);
  add(files, allotment_path, card.allotment_text);
  add(files, allotment_signature_path, card.allotment_signature);
  return files;
}

fat32::VolumeOptions volume_options(const MakeInput& in, const format::StationFacts& station) {
  fat32::VolumeOptions options;
  options.image_sectors = std::min(station.max_sectors, format::fat::max_sectors);
  options.limit_sectors = options.image_sectors;
  options.sectors_per_cluster = station.cluster_sectors;
  options.partitioned = station.partition != format::Partition::none;
  options.partition_type = station.partition == format::Partition::type_0b
                               ? format::fat::mbr::type_fat32_chs
                               : format::fat::mbr::type_fat32_lba;
  options.label = station.volume_label.view();
  options.volume_serial = load_be32(in.order.card_id.data());
  for (const package::SignoffEntry& entry : in.package.signoffs) {
    options.time = std::max(options.time, entry.signoff.time);
  }
  return options;
}

Try<format::CardIndex> index_of(const MakeInput& in, const std::vector<CardFile>& files,
                                const fat32::VolumePlan& plan, bool plain) {
  format::CardIndex index;
  index.owner = in.root.owner;
  index.card_id = in.order.card_id;
  index.root_version = in.root.root.version;
  index.trust_sequence = in.trust.list.sequence;
  if (!plain) {
    const fat32::PlannedFile* log = plan.find(log_path);
    index.log.set({log->extent.first_lba, log->extent.sector_count});
  }
  format::PackageOnCard package;
  package.path.set(package_path);
  package.size = static_cast<std::uint32_t>(in.package.bytes.size());
  package.file = crypto::sha256(in.package.bytes);
  package.manifest = in.package.manifest_digest;
  index.packages.add(package);
  std::vector<CardFile> others;
  for (const CardFile& file : files) {
    if (file.path == allotment_path) {
      format::FileOnCard listed{
          {}, static_cast<std::uint32_t>(file.content.size()), crypto::sha256(file.content)};
      listed.path.set(file.path);
      index.allotments.add(listed);
    } else if (file.path != package_path && file.path != log_path) {
      others.push_back(file);
    }
  }
  Try<void> listed = list_files(others, index.files);
  if (!listed) {
    return Unexpected(std::move(listed).error());
  }
  return index;
}

// The index names the log's sectors, so it is planned last and behind the log: its own size, known
// only afterwards, then moves nothing.
Try<void> plan_and_sign(const MakeInput& in, const format::StationFacts& station, Card& card) {
  const fat32::VolumeOptions options = volume_options(in, station);
  std::vector<CardFile> draft_files = card.files;
  add(draft_files, index_path, bytes_of("?"));
  add(draft_files, index_signature_path, crypto::Signature{});
  Try<fat32::VolumePlan> draft = fat32::plan_volume(options, tree_of(draft_files));
  if (!draft) {
    return Unexpected(std::move(draft).error());
  }
  Try<format::CardIndex> index = index_of(in, card.files, *draft, card.plain);
  if (!index) {
    return Unexpected(std::move(index).error());
  }
  Try<io::Bytes> text = seal::spell(*index);
  if (!text) {
    return Unexpected(std::move(text).error());
  }
  add(card.files, index_path, *text);
  add(card.files, index_signature_path, sign(in, format::CardIndex::kind, *text));
  Try<fat32::VolumePlan> plan = fat32::plan_volume(options, tree_of(card.files));
  if (!plan) {
    return Unexpected(std::move(plan).error());
  }
  if (!card.plain && !(plan->find(log_path)->extent == draft->find(log_path)->extent)) {
    return Unexpected(Error{ErrorKind::internal,
                            "log-moved",
                            "the log moved while the card was planned",
                            {},
                            "",
                            "",
                            ""});
  }
  card.index = *index;
  card.plan = std::move(*plan);
  return {};
}

Try<const format::StationFacts*> find_model(const package::Package& package,
                                            const format::Id& model) {
  const format::StationFacts* station = find_station(package.facts, model);
  if (station != nullptr) {
    return station;
  }
  return Unexpected(config_error("station-model", "the release was not checked for this model",
                                 std::string(model.view()), models_of(package.facts),
                                 "name one of these models, or add its profile to the release"));
}

} // namespace

Try<std::uint32_t> slots_of(const package::Package& package, const CardOrder& order) {
  Try<const format::StationFacts*> station = find_model(package, order.model);
  if (!station) {
    return Unexpected(std::move(station).error());
  }
  return enabled_slots(package, order, **station);
}

Try<Card> make_card(const MakeInput& in) {
  Try<const format::StationFacts*> found = find_model(in.package, in.order.model);
  if (!found) {
    return Unexpected(std::move(found).error());
  }
  const format::StationFacts* station = *found;
  Card card;
  card.plain = station->reads == format::StationReads::plain_file;
  card.allotment = allotment_of(in, *station);
  if (Try<void> fits = check_log(in, *station); !fits) {
    return Unexpected(std::move(fits).error());
  }
  if (Try<void> checked = check_order(in, *station, card.allotment); !checked) {
    return Unexpected(std::move(checked).error());
  }
  Try<io::Bytes> allotment = seal::spell(card.allotment);
  if (!allotment) {
    return Unexpected(std::move(allotment).error());
  }
  card.allotment_text = std::move(*allotment);
  card.allotment_signature = sign(in, format::Allotment::kind, card.allotment_text);
  const format::PlainFileFacts* plain =
      card.plain ? find_plain_file(in.package.facts, in.order.model) : nullptr;
  const SheetInput sheet{in.package, in.order, *station, plain, card.allotment.enabled_slots};
  Try<std::vector<CardFile>> files = collect(in, sheet, card);
  if (!files) {
    return Unexpected(std::move(files).error());
  }
  card.files = std::move(*files);
  if (!card.plain) {
    add(card.files, log_path, empty_log(in.order.card_id, log_sectors(in.order.units)));
  }
  if (Try<void> planned = plan_and_sign(in, *station, card); !planned) {
    return Unexpected(std::move(planned).error());
  }
  return card;
}

Try<void> fill_card(const Card& card, io::NewFile& file) {
  const auto content = [&](const fat32::PlannedFile& planned, std::uint64_t offset,
                           ByteSpan out) -> Try<void> {
    for (const CardFile& each : card.files) {
      if (each.path == planned.short_path) {
        std::copy_n(each.content.begin() + static_cast<std::ptrdiff_t>(offset), out.size(),
                    out.begin());
        return {};
      }
    }
    return Unexpected(Error{ErrorKind::internal,
                            "card-file",
                            "a planned file has no content",
                            {"", 0, 0, planned.short_path},
                            "",
                            "",
                            ""});
  };
  fat32::NewFileSink sink(file);
  return fat32::write_volume(card.plan, content, sink);
}

Try<void> write_card(io::System& system, const Card& card, const io::Path& path,
                     io::IfExists if_exists) {
  Try<io::NewFile> file = io::NewFile::create(system, path, if_exists);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  Try<void> written = fill_card(card, *file);
  return written ? file->commit() : std::move(written);
}

} // namespace cardseal::card
