#include "written_card.h"

#include <fmt/format.h>

#include "card/evidence.h"
#include "crypto/sha256.h"

namespace cardseal::tool {
namespace {

// Its id first: a long model is cut.
std::string words_of(const io::DeviceFacts& device) {
  std::string out = fmt::format("id {}, {}", device.id,
                                device.file ? "a file" : device.model + " " + device.serial);
  for (char& c : out) {
    c = c < ' ' || c > '~' ? '?' : c;
  }
  return out.substr(0, 96);
}

Error results_there(const std::string& device) {
  return at(
      refused("card-used",
              "a station worked with this very card, so its image goes on no card again", "", "",
              "reconcile it, and make a new card for the units that are left: cardseal card make"),
      device);
}

} // namespace

Try<WrittenCard> WrittenCard::open(const CardWriteOptions& options, const std::string& image_file,
                                   const io::ReadFile& image, const io::DeviceFacts& device,
                                   bool results) {
  WrittenCard out;
  if (options.registered.empty()) {
    return out;
  }
  fat32::FileSource source(image);
  TRY(card, card::read_card_id(source, image_file));
  TRY(numbers, registry::Register::open(io::real_system(), options.registered, std::nullopt));
  out.card_ = card;
  out.numbers_.emplace(std::move(numbers));
  out.note_ = {registry::Fate::on_card, options.by, words_of(device)};
  out.written_over_ = out.on_device(device.path);
  if (results && out.written_over_ == card) {
    return Unexpected(results_there(device.path));
  }
  if (out.written_over_ != card) {
    TRY_VOID(out.numbers_->note_fate(card, out.note_, true));
  }
  return out;
}

std::optional<format::CardId> WrittenCard::on_device(const std::string& device) {
  const auto file = io::ReadFile::open(io::real_system(), device);
  if (!file) {
    return std::nullopt;
  }
  fat32::FileSource source(*file);
  const Try<format::CardId> found = card::read_card_id(source, device);
  if (!found) {
    return std::nullopt;
  }
  const Try<std::vector<registry::FateRow>> fates = numbers_->fates_of(*found);
  const bool about = fates && !fates->empty() &&
                     (fates->back().note.fate == registry::Fate::on_card ||
                      fates->back().note.fate == registry::Fate::returned);
  return about ? std::optional(*found) : std::nullopt;
}

Try<void> WrittenCard::note_erased() {
  if (!written_over_) {
    return {};
  }
  const char* with = *written_over_ == card_ ? "the same image" : "another card's image";
  return numbers_->note_fate(*written_over_, {registry::Fate::erased, note_.by,
                                              fmt::format("written over with {}", with)});
}

Try<void> WrittenCard::begin() {
  if (!numbers_) {
    note("write one card from one image: two would carry the same numbers");
    return {};
  }
  TRY_VOID(note_erased());
  TRY_VOID(numbers_->note_fate(card_, note_));
  say(fmt::format("register   card {} is noted as written by {}", crypto::hex(card_),
                  escaped(note_.by)));
  return {};
}

Error WrittenCard::broken_off(Error error) const {
  if (numbers_) {
    error.hint += fmt::format(
        "{}the register has card {} as written: look at the card (card verify), and unless it is "
        "good: cardseal card note {} erased",
        error.hint.empty() ? "" : "; ", crypto::hex(card_), crypto::hex(card_));
  }
  return error;
}

} // namespace cardseal::tool
