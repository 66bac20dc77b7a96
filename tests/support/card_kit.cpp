#include "support/card_kit.h"

#include <algorithm>
#include <array>

#include "crypto/sha256.h"
#include "fat32/writer.h"
#include "format/root_chain.h"
#include "format/run_log.h"
#include "trust/dsse.h"

namespace cardseal::test {
namespace {

crypto::SigningKey key_from(std::uint8_t seed_byte) {
  std::array<std::uint8_t, crypto::seed_size> seed{};
  seed.fill(seed_byte);
  return crypto::SigningKey(ByteView(seed));
}

format::TrustedKey trusted(Who who, std::string_view person, format::Role role) {
  format::TrustedKey key;
  key.key = key_of(who).public_key();
  key.person = id(person);
  key.role = role;
  return key;
}

format::Signoff signoff_of(Who who, std::string_view person, format::Role role) {
  format::Signoff signoff;
  signoff.product = id("frost-node");
  signoff.epoch = 1;
  signoff.sequence = 7;
  signoff.role = role;
  signoff.person = id(person);
  signoff.key = key_of(who).public_key();
  signoff.meaning = text<64>("approved for production");
  signoff.reason = text<96>("tested on five boards");
  signoff.time = {2026, 3, 2, 9, 0, 0};
  signoff.tool = text<24>("card kit");
  return signoff;
}

format::Part literal_part(std::string_view value) {
  format::Part part;
  part.index = 1;
  part.literal.set(text<16>(value));
  return part;
}

format::Part number_part(std::uint8_t width) {
  format::Part part;
  part.index = 2;
  part.kind = format::PartKind::number;
  part.base.set(10);
  part.width.set(width);
  return part;
}

Bytes log_of(const format::CardId& card, std::uint32_t log_records) {
  Bytes out((log_records + 1) * format::log_sector);
  format::render_log_header({card, log_records}, format::LogSector(out.data(), format::log_sector));
  for (std::uint32_t i = 1; i <= log_records; ++i) {
    format::render_log_blank(
        format::LogSector(out.data() + i * format::log_sector, format::log_sector));
  }
  return out;
}

// The log first, so that no file's size moves it.
std::vector<fat32::Node> tree_of(const std::map<std::string, Bytes>& files) {
  std::vector<fat32::Node> root;
  fat32::Node folder{"CARDSEAL", "", true, 0, {}};
  if (const auto log = files.find("CARDSEAL/LOG.CSV"); log != files.end()) {
    folder.children.push_back({"LOG.CSV", "", false, log->second.size(), {}});
  }
  for (const auto& [path, bytes] : files) {
    const std::string name = path.substr(path.find('/') + 1);
    if (path == name) {
      root.push_back({name, "", false, bytes.size(), {}});
    } else if (name != "LOG.CSV") {
      folder.children.push_back({name, "", false, bytes.size(), {}});
    }
  }
  root.insert(root.begin(), folder);
  root.push_back({"", "what the people of the floor should know.txt", false, 0, {}});
  return root;
}

fat32::VolumePlan plan_of(const std::map<std::string, Bytes>& files, bool partitioned) {
  fat32::VolumeOptions options;
  options.image_sectors = fat32::smallest_image;
  options.sectors_per_cluster = 1;
  options.data_alignment_sectors = 1;
  options.partitioned = partitioned;
  options.label = "FROST";
  options.time = {2026, 3, 2, 9, 0, 0};
  auto plan = fat32::plan_volume(options, tree_of(files));
  if (!plan) {
    throw std::runtime_error(describe(plan.error()));
  }
  return *plan;
}

// By public key, ascending, as signature files stand.
std::vector<Who> ascending(std::vector<Who> all) {
  std::sort(all.begin(), all.end(),
            [](Who a, Who b) { return key_of(a).public_key() < key_of(b).public_key(); });
  return all;
}

template <class T>
void check(const T& result) {
  if (!result) {
    throw std::runtime_error(describe(result.error()));
  }
}

} // namespace

const crypto::SigningKey& key_of(Who who) {
  static const std::array<crypto::SigningKey, 9> keys{key_from(1), key_from(2), key_from(3),
                                                      key_from(4), key_from(5), key_from(6),
                                                      key_from(7), key_from(8), key_from(9)};
  return keys[static_cast<std::size_t>(who)];
}

format::Digest digest_of(ByteView bytes) {
  return crypto::sha256(bytes);
}

Bytes sign(Who who, std::string_view kind, ByteView body) {
  const trust::DsseHead head = trust::dsse_head_for_kind(kind, body.size());
  Bytes message(head.view().begin(), head.view().end());
  message.insert(message.end(), body.begin(), body.end());
  const crypto::Signature signature = key_of(who).sign(message);
  return {signature.begin(), signature.end()};
}

Bytes container_of(const std::vector<std::pair<std::string, Bytes>>& entries) {
  Bytes out;
  for (const auto& [name, content] : entries) {
    std::array<std::uint8_t, format::tar_block> header{};
    format::render_header(name, static_cast<std::uint32_t>(content.size()), header);
    out.insert(out.end(), header.begin(), header.end());
    out.insert(out.end(), content.begin(), content.end());
    out.resize((out.size() + 511) / 512 * 512);
  }
  out.resize(out.size() + 1024);
  return out;
}

Bytes chain_of(ByteView image) {
  const std::size_t count = (image.size() + 4095) / 4096;
  Bytes out(32 * count);
  format::Digest following{};
  for (std::size_t i = count; i-- > 0;) {
    const ByteView block =
        image.subspan(i * 4096, std::min<std::size_t>(4096, image.size() - i * 4096));
    Bytes message(block.begin(), block.end());
    message.insert(message.end(), following.begin(), following.end());
    following = digest_of(message);
    std::copy(following.begin(), following.end(),
              out.begin() + static_cast<std::ptrdiff_t>(32 * i));
  }
  return out;
}

Bytes Card::sector(std::uint32_t lba) const {
  Bytes out(512);
  check(sectors->read(lba, out));
  return out;
}

void Card::set(std::uint32_t lba, std::size_t offset, ByteView bytes) const {
  Bytes whole = sector(lba);
  std::copy(bytes.begin(), bytes.end(), whole.begin() + static_cast<std::ptrdiff_t>(offset));
  check(sectors->write(lba, whole));
}

std::uint32_t Card::lba_of(std::string_view path) const {
  const fat32::PlannedFile* file = plan.find(path);
  if (file == nullptr) {
    throw std::runtime_error("no such file on the card: " + std::string(path));
  }
  return file->extent.first_lba;
}

CardKit::CardKit() {
  root.persons.add({id("asta"), text<24>("Asta Tarn")});
  root.keys.add({key_of(Who::root_a).public_key(), id("asta")});

  list.time = {2026, 3, 1, 8, 0, 0};
  list.sequence = 3;
  list.persons.add({id("edda"), text<24>("Edda Alder")});
  list.persons.add({id("noor"), text<24>("Noor Tarn")});
  list.persons.add({id("quin"), text<24>("Quin Birk")});
  list.persons.add({id("rolf"), text<24>("Rolf Asp")});
  list.keys.add(trusted(Who::release, "rolf", format::Role::release));
  list.keys.add(trusted(Who::quality, "quin", format::Role::quality));
  list.keys.add(trusted(Who::allot, "noor", format::Role::allot));
  list.keys.add(trusted(Who::engineering, "edda", format::Role::engineering));
  list.products.add({id("frost-node"), 1, 2});
  list.windows.add(
      {.key = key_of(Who::allot).public_key(), .scheme = id("fn"), .first = 1000, .last = 4999});

  image.resize(9000);
  for (std::size_t i = 0; i < image.size(); ++i) {
    image[i] = static_cast<std::uint8_t>(i * 7 + i / 256);
  }
  manifest.product = id("frost-node");
  manifest.release = text<24>("1.4.0");
  manifest.epoch = 1;
  manifest.sequence = 7;
  manifest.title = text<24>("FROST NODE 1.4.0");
  manifest.device = text<32>("tarn-8");
  manifest.board = text<32>("frost-node-board");
  manifest.board_revision = 2;
  manifest.station_models.add(id("six-slot"));
  manifest.slots = 0x3F;
  manifest.supply_mv = 3300;
  manifest.erase = format::Erase::chip;
  manifest.verify = format::Verify::nominal;
  manifest.scheme.set({id("fn"), 0, 1, 1'000'000});
  manifest.parts.add(literal_part("FN"));
  manifest.parts.add(number_part(6));
  format::Placement placement;
  placement.region = id("eeprom");
  placement.length = 8;
  placement.parts.set({1, 2});
  manifest.placements.add(placement);
  manifest.segments.add({0, 4000});
  manifest.segments.add({0x1000, 5000});

  signoffs.push_back({signoff_of(Who::release, "rolf", format::Role::release), Who::release});
  signoffs.push_back({signoff_of(Who::quality, "quin", format::Role::quality), Who::quality});

  allotment.product = id("frost-node");
  allotment.scheme.set(id("fn"));
  allotment.card = {1, 2, 3, 4, 5, 6, 7, 8};
  allotment.station = id("bench-1");
  allotment.enrolment = 2;
  allotment.serial = 11;
  allotment.first = 1234;
  allotment.count = 20;
  allotment.units = 20;
  allotment.work_order = text<24>("WO-0815");
  allotment.enabled_slots = 0x3F;

  index.card_id = allotment.card;
  index.trust_sequence = 3;
}

Bytes CardKit::build_package() {
  format::Facts about;
  about.owner = owner();
  about.product = manifest.product;
  about.release = manifest.release;
  about.firmware_name = text<64>("kit.bin");
  about.firmware_size = static_cast<std::uint32_t>(image.size());
  about.firmware_format = format::FirmwareFormat::raw;
  about.tool = text<24>("card kit");
  if (on_facts) {
    on_facts(about);
  }
  const Bytes facts = spelled(about);
  const Bytes document = {'n', 'o', 't', 'e', 's', '\n'};
  const Bytes chain = chain_of(image);
  format::Manifest sealed = manifest;
  sealed.owner = owner();
  sealed.image_size = static_cast<std::uint32_t>(image.size());
  sealed.image_digest = digest_of(image);
  std::copy_n(chain.begin(), 32, sealed.chain_head.begin());
  sealed.facts_size = static_cast<std::uint32_t>(facts.size());
  sealed.facts_digest = digest_of(facts);
  sealed.files.add(
      {text<24>("notes.txt"), static_cast<std::uint32_t>(document.size()), digest_of(document)});
  if (on_manifest) {
    on_manifest(sealed);
  }
  manifest_text = spelled(sealed);
  std::vector<std::pair<std::string, Bytes>> entries{{"manifest", manifest_text}};
  Bytes before;
  for (std::size_t i = 0; i < signoffs.size(); ++i) {
    format::Signoff signoff = signoffs[i].signoff;
    signoff.owner = owner();
    signoff.manifest = digest_of(manifest_text);
    if (i > 0) {
      signoff.previous.set(digest_of(before));
    }
    if (on_signoff) {
      on_signoff(i, signoff);
    }
    before = spelled(signoff);
    const std::string name = "signoff/0" + std::to_string(i + 1);
    entries.emplace_back(name, before);
    entries.emplace_back(name + ".sig", sign(signoffs[i].by, "signoff", before));
  }
  entries.emplace_back("chain", chain);
  entries.emplace_back("image", image);
  entries.emplace_back("facts", facts);
  entries.emplace_back("doc/notes.txt", document);
  return container_of(entries);
}

void CardKit::build_roots() {
  std::vector<std::pair<std::string, Bytes>> entries;
  std::array<char, format::root_entry_name> name{};
  root_texts = {root_text()};
  entries.emplace_back(format::root_name(1, name), root_texts[0]);
  entries.emplace_back(format::root_signature_name(1, 0, name),
                       sign(Who::root_a, "root", root_texts[0]));
  for (const SignedRoot& next : next_roots) {
    format::Root sealed = next.root;
    sealed.version = static_cast<std::uint32_t>(root_texts.size() + 1);
    sealed.owner.set(owner());
    sealed.previous.set(digest_of(root_texts.back()));
    std::sort(sealed.keys.items.begin(), sealed.keys.items.begin() + sealed.keys.count,
              [](const auto& a, const auto& b) { return a.key < b.key; });
    const auto version = sealed.version;
    if (on_root) {
      on_root(version, sealed);
    }
    root_texts.push_back(spelled(sealed));
    entries.emplace_back(format::root_name(version, name), root_texts.back());
    std::size_t at = 0;
    for (const Who who : ascending(next.by)) {
      entries.emplace_back(format::root_signature_name(version, at++, name),
                           sign(who, "root", root_texts.back()));
    }
  }
  Bytes file = container_of(entries);
  if (on_roots) {
    on_roots(file);
  }
  files["CARDSEAL/ROOTS.TAR"] = file;
}

void CardKit::build_withdrawals() {
  for (std::size_t i = 0; i < withdrawals.size(); ++i) {
    format::Withdrawal sealed = withdrawals[i].text;
    sealed.owner = sealed.owner == format::Digest{} ? owner() : sealed.owner;
    const std::string path = "CARDSEAL/W0" + std::to_string(i + 1);
    files[path + ".TXT"] = spelled(sealed);
    files[path + ".S01"] = sign(withdrawals[i].by, "withdrawal", files[path + ".TXT"]);
  }
}

void CardKit::build_texts() {
  if (!next_roots.empty()) {
    build_roots();
  }
  build_withdrawals();
  format::TrustList sealed_list = list;
  sealed_list.owner = owner();
  std::sort(sealed_list.keys.items.begin(), sealed_list.keys.items.begin() + sealed_list.keys.count,
            [](const auto& a, const auto& b) { return a.key < b.key; });
  if (on_list) {
    on_list(sealed_list);
  }
  list_text = spelled(sealed_list);
  if (with_list) {
    files["CARDSEAL/TRUST.TXT"] = list_text;
    for (std::size_t i = 0; i < list_signers.size(); ++i) {
      files["CARDSEAL/TRUST.S0" + std::to_string(i + 1)] =
          sign(list_signers[i], "trust", list_text);
    }
  }
  package = build_package();
  if (on_package) {
    on_package(package);
  }
  files["CARDSEAL/P01.CRP"] = package;
  format::Allotment sealed = allotment;
  sealed.owner = owner();
  sealed.manifest = digest_of(manifest_text);
  if (on_allotment) {
    on_allotment(sealed);
  }
  allotment_text = spelled(sealed);
  files["CARDSEAL/A01.TXT"] = allotment_text;
  files["CARDSEAL/A01.S01"] = sign(allotment_signer, "allotment", allotment_text);
  for (std::size_t i = 0; i < more_allotments.size(); ++i) {
    format::Allotment more = more_allotments[i];
    more.owner = sealed.owner;
    more.manifest = sealed.manifest;
    const std::string path = "CARDSEAL/A0" + std::to_string(i + 2);
    files[path + ".TXT"] = spelled(more);
    files[path + ".S01"] = sign(allotment_signer, "allotment", files[path + ".TXT"]);
  }
  files["README.TXT"] = {'r', 'e', 'a', 'd', '\n'};
  if (log_records != 0) {
    files["CARDSEAL/LOG.CSV"] = log_of(allotment.card, log_records);
  } else {
    files[std::string(format::no_log_path)] = {'n', 'o', 'n', 'e', '\n'};
  }
}

void CardKit::fill_index(const format::Maybe<format::LogExtent>& log) {
  format::CardIndex sealed = index;
  sealed.owner = owner();
  sealed.log = log;
  sealed.packages = {};
  sealed.allotments = {};
  sealed.files = {};
  for (const auto& [path, bytes] : files) {
    const auto size = static_cast<std::uint32_t>(bytes.size());
    if (path == "CARDSEAL/P01.CRP") {
      sealed.packages.add({text<40>(path), size, digest_of(bytes), digest_of(manifest_text)});
    } else if (path.rfind("CARDSEAL/A", 0) == 0 && path.find(".TXT") != std::string::npos) {
      sealed.allotments.add({text<40>(path), size, digest_of(bytes)});
    } else if (path != "CARDSEAL/LOG.CSV" && path.find("CARD.") == std::string::npos) {
      sealed.files.add({text<40>(path), size, digest_of(bytes)});
    }
  }
  if (on_index) {
    on_index(sealed);
  }
  index_text = spelled(sealed);
}

Card CardKit::build() {
  files.clear();
  build_texts();
  const fat32::VolumePlan draft = plan_of(files, partitioned);
  format::Maybe<format::LogExtent> log;
  if (const fat32::PlannedFile* file = draft.find("CARDSEAL/LOG.CSV")) {
    log.set({file->extent.first_lba, file->extent.sector_count});
  }
  fill_index(log);
  files["CARDSEAL/CARD.TXT"] = index_text;
  files["CARDSEAL/CARD.S01"] = sign(index_signer, "card", index_text);
  if (on_card) {
    on_card(files);
  }
  Card card;
  card.plan = plan_of(files, partitioned);
  card.sectors = std::make_shared<fat32::MemoryCard>(card.plan.shape.image_sectors, 0xA5);
  const fat32::ContentSource content = [this](const fat32::PlannedFile& file, std::uint64_t offset,
                                              ByteSpan out) -> Try<void> {
    const Bytes& bytes = files.at(file.short_path);
    std::copy_n(bytes.begin() + static_cast<std::ptrdiff_t>(offset), out.size(), out.begin());
    return {};
  };
  check(fat32::write_volume(card.plan, content, *card.sectors));
  return card;
}

} // namespace cardseal::test
