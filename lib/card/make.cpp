#include "card/make.h"

#include <algorithm>

#include <fmt/format.h>

#include "card/checks.h"
#include "card/plain_file.h"
#include "card/roots.h"
#include "card/run_log.h"
#include "card/sheet.h"
#include "crypto/sha256.h"
#include "fat32/writer.h"

namespace cardseal::card {
namespace {

std::uint32_t enabled_slots(const package::Package& package, const CardOrder& order,
                            const format::StationFacts& station) {
  return order.enabled_slots != 0 ? order.enabled_slots : package.manifest.slots & station.slots;
}

format::Allotment allotment_of(const seal::OwnerRoot& root, const CardJob& job,
                               const format::StationFacts& station) {
  const format::Manifest& m = job.package().manifest;
  format::Allotment a;
  a.owner = root.owner;
  a.manifest = job.package().manifest_digest;
  a.product = m.product;
  a.card = job.order.card_id;
  a.station = job.order.station;
  a.enrolment = job.order.enrolment;
  a.serial = job.order.serial;
  a.units = job.order.units;
  a.work_class = job.order.work_class;
  a.work_order = job.order.work_order;
  a.date_code = job.order.date_code;
  a.enabled_slots = enabled_slots(job.package(), job.order, station);
  a.register_entry = job.order.register_entry;
  if (m.scheme.present) {
    a.scheme.set(m.scheme.value.id);
    a.first = job.order.first;
    a.count = job.order.units;
    a.numbers = job.order.numbers;
    a.spans = job.order.spans;
  }
  return a;
}

void add(std::vector<CardFile>& files, std::string_view path, ByteView content) {
  files.push_back({std::string(path), {content.begin(), content.end()}, nullptr});
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

// What the people at the station need first, so that it stands first in the folder.
Try<void> add_for_people(const std::vector<SheetInput>& sheets, Card& card) {
  Try<std::string> sheet = setup_sheet(sheets);
  if (!sheet) {
    return Unexpected(std::move(sheet).error());
  }
  card.setup_sheet = *sheet;
  add(card.files, setup_path, bytes_of(card.setup_sheet));
  add(card.files, readme_path, bytes_of(readme(sheets)));
  return {};
}

// Files for each unit follow from package and allotment, so the index, which holds few, names none.
Try<void> add_plain(const std::vector<SheetInput>& sheets, Card& card) {
  for (std::size_t i = 0; i < sheets.size(); ++i) {
    const SheetInput& each = sheets[i];
    if (each.plain == nullptr) {
      continue;
    }
    const std::uint64_t room = std::uint64_t{each.station.max_sectors} * format::fat::sector_bytes;
    Try<std::vector<CardFile>> files =
        plain_files(each.package, *each.plain, card.allotments[i].allotment, room);
    if (!files) {
      return Unexpected(std::move(files).error());
    }
    for (CardFile& file : *files) {
      if (is_for_each_unit(*each.plain)) {
        card.unlisted.insert(file.path);
      }
      card.files.push_back(std::move(file));
    }
  }
  return {};
}

Try<void> collect(const MakeInput& in, const std::vector<SheetInput>& sheets, Card& card) {
  if (Try<void> added = add_plain(sheets, card); !added) {
    return added;
  }
  if (Try<void> added = add_for_people(sheets, card); !added) {
    return added;
  }
  if (in.root.root.version > 1) {
    Try<io::Bytes> roots = roots_file(in.root);
    if (!roots) {
      return Unexpected(std::move(roots).error());
    }
    add(card.files, roots_path, *roots);
  }
  add_trust(card.files, in.trust);
  for (std::size_t i = 0; i < in.jobs.size(); ++i) {
    card.files.push_back({package_path(i), {}, &in.jobs[i].package().bytes});
    add(card.files, allotment_path(i), card.allotments[i].text);
    add(card.files, allotment_signature_path(i), card.allotments[i].signature);
  }
  return {};
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
  options.volume_serial = load_be32(in.jobs.front().order.card_id.data());
  for (const CardJob& job : in.jobs) {
    for (const package::SignoffEntry& entry : job.package().signoffs) {
      options.time = std::max(options.time, entry.signoff.time);
    }
  }
  return options;
}

// Named in the index by itself, not among the other files; or not at all.
bool is_apart(const CardFile& file, std::size_t jobs) {
  if (file.path == log_path || file.path == index_path || file.path == index_signature_path) {
    return true;
  }
  for (std::size_t i = 0; i < jobs; ++i) {
    if (file.path == package_path(i) || file.path == allotment_path(i)) {
      return true;
    }
  }
  return false;
}

void list_jobs(const MakeInput& in, const Card& card, format::CardIndex& index) {
  for (std::size_t i = 0; i < in.jobs.size(); ++i) {
    const package::Package& package = in.jobs[i].package();
    format::PackageOnCard listed;
    listed.path.set(package_path(i));
    listed.size = static_cast<std::uint32_t>(package.bytes.size());
    listed.file = in.jobs[i].judged.file_digest();
    listed.manifest = package.manifest_digest;
    index.packages.add(listed);
    const io::Bytes& text = card.allotments[i].text;
    format::FileOnCard allotment{{}, static_cast<std::uint32_t>(text.size()), crypto::sha256(text)};
    allotment.path.set(allotment_path(i));
    index.allotments.add(allotment);
  }
}

Try<format::CardIndex> index_of(const MakeInput& in, const Card& card,
                                const fat32::VolumePlan& plan) {
  format::CardIndex index;
  index.owner = in.root.owner;
  index.card_id = in.jobs.front().order.card_id;
  index.root_version = in.root.root.version;
  index.trust_sequence = in.trust.list.sequence;
  if (card.has_log()) {
    const fat32::PlannedFile* log = plan.find(log_path);
    index.log.set({log->extent.first_lba, log->extent.sector_count});
  }
  list_jobs(in, card, index);
  std::vector<const CardFile*> others;
  for (const CardFile& file : card.files) {
    if (!is_apart(file, in.jobs.size()) && card.unlisted.count(file.path) == 0) {
      others.push_back(&file);
    }
  }
  Try<void> listed = list_files(std::move(others), index.files);
  if (!listed) {
    return Unexpected(std::move(listed).error());
  }
  return index;
}

Error our_fault(const char* code, const char* what) {
  return Error{ErrorKind::internal, code, what, {}, "", "", ""};
}

CardFile* find(Card& card, std::string_view path) {
  const auto file = std::ranges::find(card.files, path, &CardFile::path);
  return file == card.files.end() ? nullptr : &*file;
}

// Another content of the same size; the index names it by its digest, where it names it.
Try<void> put(Card& card, std::string_view path, ByteView content) {
  CardFile* file = find(card, path);
  if (file == nullptr || file->content.size() != content.size()) {
    return Unexpected(
        our_fault("file-moved", "a planned file changed its size when it was signed"));
  }
  file->content.assign(content.begin(), content.end());
  for (format::FileOnCard& listed : card.index.files.view()) {
    if (listed.path.view() == path) {
      listed.digest = crypto::sha256(content);
    }
  }
  return {};
}

// The index names the log's sectors, so it is planned last and behind the log: its own size, known
// only afterwards, then moves nothing.
Try<void> plan_files(const MakeInput& in, const format::StationFacts& station, Card& card) {
  const fat32::VolumeOptions options = volume_options(in, station);
  add(card.files, index_path, bytes_of("?"));
  add(card.files, index_signature_path, crypto::Signature{});
  Try<fat32::VolumePlan> draft = fat32::plan_volume(options, tree_of(card.files));
  Try<format::CardIndex> index = draft ? index_of(in, card, *draft) : Unexpected(draft.error());
  Try<io::Bytes> text = index ? seal::spell(*index) : Unexpected(index.error());
  if (!text) {
    return Unexpected(std::move(text).error());
  }
  card.index = *index;
  find(card, index_path)->content = std::move(*text);
  Try<fat32::VolumePlan> plan = fat32::plan_volume(options, tree_of(card.files));
  if (!plan) {
    return Unexpected(std::move(plan).error());
  }
  if (card.has_log() && !(plan->find(log_path)->extent == draft->find(log_path)->extent)) {
    return Unexpected(our_fault("log-moved", "the log moved while the card was planned"));
  }
  card.plan = std::move(*plan);
  return {};
}

Try<SealedAllotment> seal_allotment(const MakeInput& in, const CardJob& job,
                                    const format::StationFacts& station) {
  SealedAllotment sealed;
  sealed.allotment = allotment_of(in.root, job, station);
  if (Try<void> checked = check_job(in, job, station, sealed.allotment); !checked) {
    return Unexpected(std::move(checked).error());
  }
  Try<io::Bytes> text = seal::spell(sealed.allotment);
  if (!text) {
    return Unexpected(std::move(text).error());
  }
  sealed.text = std::move(*text);
  return sealed;
}

Try<void> sign_allotments(const MakeInput& in, Card& card) {
  Try<void> done;
  for (std::size_t i = 0; i < card.allotments.size() && done; ++i) {
    SealedAllotment& sealed = card.allotments[i];
    sealed.signature = seal::sign(in.allot_key, format::Allotment::kind, sealed.text);
    done = put(card, allotment_signature_path(i), sealed.signature);
  }
  return done;
}

// For each job what the sheet says.
std::vector<SheetInput> sheets_of(const MakeInput& in,
                                  const std::vector<const format::StationFacts*>& stations,
                                  const Card& card) {
  std::vector<SheetInput> sheets;
  for (std::size_t i = 0; i < in.jobs.size(); ++i) {
    const CardJob& job = in.jobs[i];
    const format::PlainFileFacts* plain =
        card.reads == format::StationReads::plain_file
            ? find_plain_file(job.package().facts, job.order.model)
            : nullptr;
    sheets.push_back({job.package(), job.order, *stations[i], plain,
                      card.allotments[i].allotment.enabled_slots});
  }
  return sheets;
}

std::uint32_t units_of(const MakeInput& in) {
  std::uint32_t units = 0;
  for (const CardJob& job : in.jobs) {
    units += job.order.units;
  }
  return units;
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
  Try<Card> card = plan_card(in);
  Try<void> signed_whole = card ? sign_card(in, *card) : Unexpected(card.error());
  if (!signed_whole) {
    return Unexpected(std::move(signed_whole).error());
  }
  return card;
}

// Digests of the signatures are in the index, so it is spelled anew; digests are all as long.
Try<void> sign_card(const MakeInput& in, Card& card) {
  if (Try<void> done = sign_allotments(in, card); !done) {
    return done;
  }
  Try<io::Bytes> text = seal::spell(card.index);
  if (!text) {
    return Unexpected(std::move(text).error());
  }
  Try<void> done = put(card, index_path, *text);
  return done ? put(card, index_signature_path,
                    seal::sign(in.allot_key, format::CardIndex::kind, *text))
              : std::move(done);
}

Try<Card> plan_card(const MakeInput& in) {
  Try<std::vector<const format::StationFacts*>> stations = models_of(in);
  if (!stations) {
    return Unexpected(std::move(stations).error());
  }
  if (Try<void> fits = check_together(in, *stations); !fits) {
    return Unexpected(std::move(fits).error());
  }
  Card card;
  card.reads = stations->front()->reads;
  for (std::size_t i = 0; i < in.jobs.size(); ++i) {
    Try<SealedAllotment> sealed = seal_allotment(in, in.jobs[i], *(*stations)[i]);
    if (!sealed) {
      return Unexpected(std::move(sealed).error());
    }
    card.allotments.push_back(std::move(*sealed));
  }
  if (Try<void> files = collect(in, sheets_of(in, *stations, card), card); !files) {
    return Unexpected(std::move(files).error());
  }
  if (card.reads == format::StationReads::signed_no_log) {
    add(card.files, format::no_log_path, bytes_of(no_log_note));
  }
  if (card.has_log()) {
    const format::CardId& id = in.jobs.front().order.card_id;
    add(card.files, log_path, empty_log(id, log_sectors(units_of(in))));
  }
  if (Try<void> planned = plan_files(in, *stations->front(), card); !planned) {
    return Unexpected(std::move(planned).error());
  }
  return card;
}

Try<void> fill_card(const Card& card, io::NewFile& file) {
  const auto content = [&](const fat32::PlannedFile& planned, std::uint64_t offset,
                           ByteSpan out) -> Try<void> {
    for (const CardFile& each : card.files) {
      if (each.path == planned.short_path) {
        copy(out, each.bytes().subspan(offset, out.size()));
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
