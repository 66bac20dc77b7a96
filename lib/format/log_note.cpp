#include "format/log_note.h"

#include "base/crc.h"

namespace cardseal::format {
namespace {

constexpr std::string_view note_magic = "CSLOGNT\x01"; // and the version of the layout

namespace note_at {
constexpr std::size_t generation = 8;
constexpr std::size_t lba = 12;
constexpr std::size_t card = 16;
constexpr std::size_t sector = 32;
constexpr std::size_t crc = 544;
} // namespace note_at

} // namespace

void store_log_note(const LogNote& note, LogNoteBytes& out) {
  fill(out, 0);
  copy(ByteSpan(out).first(note_magic.size()), bytes_of(note_magic));
  store_be32(out.data() + note_at::generation, note.generation);
  store_be32(out.data() + note_at::lba, note.lba);
  copy(ByteSpan(out).subspan(note_at::card, note.card.size()), note.card);
  copy(ByteSpan(out).subspan(note_at::sector, log_sector), note.sector);
  store_be32(out.data() + note_at::crc, crc32(ByteView(out).first(note_at::crc)));
}

bool load_log_note(const LogNoteBytes& bytes, LogNote& out) {
  out.generation = load_be32(bytes.data() + note_at::generation);
  out.lba = load_be32(bytes.data() + note_at::lba);
  copy(out.card, ByteView(bytes).subspan(note_at::card, out.card.size()));
  copy(out.sector, ByteView(bytes).subspan(note_at::sector, log_sector));
  LogNoteBytes again{};
  store_log_note(out, again);
  return equal(again, bytes);
}

} // namespace cardseal::format
