#include "card/evidence.h"

#include <algorithm>

#include "crypto/table.h"
#include "fat32/reader.h"
#include "format/codec.h"
#include "trust/signatures.h"

namespace cardseal::card {
namespace {

constexpr std::size_t signature_size = crypto::Signature{}.size();

std::optional<registry::Evidence> evidence_of(ByteView text, ByteView signature,
                                              const seal::OwnerRoot& root,
                                              const format::TrustList& list, std::string file) {
  crypto::BotanContext context;
  const trust::CryptoTable crypto = crypto::botan_table(context);
  const format::TrustedKey* signer = nullptr;
  const Outcome found =
      trust::find_signer(crypto, list, {format::Allotment::kind, text, signature}, signer);
  registry::Evidence evidence;
  if (!found.ok() || signer->role != format::Role::allot ||
      !format::decode(text, evidence.allotment).ok() || evidence.allotment.owner != root.owner) {
    return std::nullopt;
  }
  evidence.signer = signer->key;
  evidence.text = crypto::sha256(text);
  evidence.file = std::move(file);
  return evidence;
}

bool is_allotment(const std::string& path) {
  return path.starts_with("CARDSEAL/A") && path.ends_with(".TXT");
}

} // namespace

io::Path newest_path(const io::Path& register_file) {
  return register_file.string() + ".newest";
}

Newest::Newest(io::System& system, io::Path path, const seal::OwnerRoot& root,
               const format::TrustList& list)
    : system_(system), path_(std::move(path)), root_(root), list_(list) {}

Try<void> Newest::keep(ByteView text, const crypto::Signature& signature) {
  io::Bytes bytes(text.begin(), text.end());
  bytes.insert(bytes.end(), signature.begin(), signature.end());
  return io::write_file(system_, path_, bytes, io::IfExists::replace);
}

Try<std::optional<registry::Evidence>> Newest::read() {
  const std::optional<registry::Evidence> none;
  if (!system_.stat(path_)) {
    return none;
  }
  Try<io::Bytes> bytes = io::read_file(system_, path_, format::Allotment::limit + signature_size);
  if (!bytes) {
    return Unexpected(std::move(bytes).error());
  }
  if (bytes->size() < signature_size) {
    return none;
  }
  if (*bytes != verified_) {
    const ByteView all(*bytes);
    evidence_ = evidence_of(all.first(all.size() - signature_size), all.last(signature_size), root_,
                            list_, path_.string());
    verified_ = std::move(*bytes);
  }
  return evidence_;
}

Try<std::vector<registry::Evidence>> read_evidence(fat32::SectorSource& card,
                                                   const std::string& file,
                                                   const seal::OwnerRoot& root,
                                                   const format::TrustList& list) {
  Try<fat32::Volume> volume = fat32::Volume::open(card);
  if (!volume) {
    return Unexpected(std::move(volume).error());
  }
  std::vector<registry::Evidence> found;
  for (const fat32::Entry& entry : volume->entries()) {
    const fat32::Entry* signature =
        is_allotment(entry.path) ? volume->find(entry.path.substr(0, entry.path.size() - 3) + "S01")
                                 : nullptr;
    if (signature == nullptr) {
      continue;
    }
    Try<io::Bytes> text = volume->read_all(entry, format::Allotment::limit);
    Try<io::Bytes> bytes = volume->read_all(*signature, signature_size);
    if (!text || !bytes) {
      continue; // then it is no allotment of ours
    }
    if (auto evidence = evidence_of(*text, *bytes, root, list, file)) {
      found.push_back(std::move(*evidence));
    }
  }
  if (found.empty()) {
    Error error;
    error.kind = ErrorKind::refused;
    error.code = "no-allotment";
    error.what = "no allotment that a desk of this owner signed is on this card";
    error.place.file = file;
    error.hint = "check the card: cardseal card verify";
    return Unexpected(std::move(error));
  }
  return found;
}

Try<format::CardId> read_card_id(fat32::SectorSource& card, const std::string& file) {
  Try<fat32::Volume> volume = fat32::Volume::open(card);
  if (!volume) {
    return Unexpected(std::move(volume).error());
  }
  format::CardIndex index;
  for (const fat32::Entry& entry : volume->entries()) {
    if (entry.path == index_path && entry.size <= format::CardIndex::limit) {
      io::Bytes text(entry.size);
      if (volume->read(entry, 0, text) && format::decode(text, index).ok()) {
        return index.card_id;
      }
    }
  }
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "card-id";
  error.what = "this card says no id";
  error.place.file = file;
  error.found = "no " + std::string(index_path) + " in its form";
  error.expected = "a card that cardseal card make wrote";
  error.hint = "give the card's id, 16 hex digits, as its sheet and the register say it";
  return Unexpected(std::move(error));
}

} // namespace cardseal::card
