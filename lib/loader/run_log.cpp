#include "loader/run_log.h"

#include "loader/need.h"

namespace cardseal::loader {
namespace {

std::uint32_t bits_in(std::uint32_t mask) {
  std::uint32_t count = 0;
  for (; mask != 0; mask &= mask - 1) {
    ++count;
  }
  return count;
}

std::uint32_t bit_of(std::uint8_t slot) {
  return slot >= 1 && slot <= 32 ? std::uint32_t{1} << (slot - 1) : 0;
}

format::LogWord word_of(std::string_view text) {
  format::LogWord word;
  word.set(text);
  return word;
}

// A station's id in the log's alphabet.
format::LogWord capitals(const format::Id& id) {
  format::LogWord word = word_of(id.view());
  for (std::size_t i = 0; i < word.size; ++i) {
    const char c = word.bytes[i];
    word.bytes[i] = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  }
  return word;
}

} // namespace

// The newer of the two cells that are whole; false when neither is.
bool RunLog::find_note(format::LogNote& note) {
  bool any = false;
  cell_ = 1;
  generation_ = 0;
  for (unsigned cell = 0; cell < 2; ++cell) {
    format::LogNoteBytes bytes{};
    format::LogNote found;
    if (notes_.read(notes_.context, cell, bytes) && format::load_log_note(bytes, found) &&
        (!any || found.generation > generation_)) {
      note = found;
      cell_ = cell;
      generation_ = found.generation;
      any = true;
    }
  }
  return any;
}

Outcome RunLog::open(const Entered& entered) {
  open_ = false;
  if (!station_.admitted() && !station_.finished()) {
    return refuse(Fault::card_empty);
  }
  entered_ = entered;
  cycle_ = slots_ = trying_ = failed_ = 0;
  in_row_ = {};
  const Job& job = station_.job();
  const format::StateHead& head = station_.memory().head();
  format::LogNote note;
  format::LogRecord last = probe();
  if (!format::render_log_record(last, note.sector)) { // else the first unit taken would show it
    return refuse(Fault::text_form);
  }
  const bool ours = writes() && find_note(note) &&
                    format::parse_log_record(note.sector, last).ok() &&
                    last.station == capitals(head.station) && last.enrolment == head.enrolment;
  session_ = ours ? last.session + 1 : head.generation;
  chain_ = 0;
  next_ = format::log_records_a_unit * job.used.units_started;
  open_ = station_.admitted();
  const std::uint32_t record = note.lba - job.log.first; // wraps when it lies before
  if (!ours || note.card != job.card_id || record >= job.log.count) {
    return done; // another card came between, or another job of this one
  }
  chain_ = last.chain;
  next_ = record + 1;
  return write_card(note);
}

std::uint32_t RunLog::stopped_slots() const {
  const std::uint8_t limit = open_ ? station_.job().manifest.stop_after : std::uint8_t{0};
  std::uint32_t stopped = 0;
  for (std::uint8_t slot = 1; slot <= 32 && limit != 0; ++slot) {
    const std::uint32_t row = in_row_[slot - 1U] + ((failed_ & bit_of(slot)) != 0 ? 1U : 0U);
    stopped |= row >= limit ? bit_of(slot) : 0;
  }
  return stopped;
}

Outcome RunLog::room_for(std::uint32_t records) const {
  if (!writes()) {
    return done;
  }
  const format::LogExtent& log = station_.job().log;
  return need(next_ <= log.count && records <= log.count - next_, Fault::log_full,
              log.first + log.count);
}

Outcome RunLog::room_for_cycle(std::uint32_t slot_mask) const {
  if (!open_) {
    return refuse(Fault::log_write);
  }
  const std::uint32_t stopped = stopped_slots();
  const Outcome outcome = need((slot_mask & stopped) == 0, Fault::slot_stopped, stopped);
  return outcome.ok() ? room_for(2 * bits_in(slot_mask)) : outcome;
}

Outcome RunLog::begin_cycle(std::uint32_t slot_mask, std::uint16_t supply_mv,
                            std::uint64_t& first_ordinal) {
  Outcome outcome = room_for_cycle(slot_mask);
  if (outcome.ok()) {
    outcome = station_.begin_cycle(slot_mask, first_ordinal);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  for (std::uint8_t slot = 1; slot <= 32; ++slot) {
    ordinals_[slot - 1U] = first_ordinal + bits_in(slot_mask & (bit_of(slot) - 1));
  }
  return start_cycle(slot_mask, supply_mv);
}

Outcome RunLog::begin_boards(std::uint32_t slot_mask, std::uint16_t supply_mv,
                             std::span<const std::uint64_t> ordinals) {
  Outcome outcome = room_for_cycle(slot_mask);
  if (outcome.ok()) {
    outcome = station_.begin_boards(slot_mask, ordinals);
  }
  if (!outcome.ok()) {
    return outcome;
  }
  for (std::uint8_t slot = 1; slot <= 32; ++slot) {
    if ((slot_mask & bit_of(slot)) != 0) {
      ordinals_[slot - 1U] = ordinals[bits_in(slot_mask & (bit_of(slot) - 1))];
    }
  }
  return start_cycle(slot_mask, supply_mv);
}

Outcome RunLog::start_cycle(std::uint32_t slot_mask, std::uint16_t supply_mv) {
  ++cycle_;
  for (std::uint8_t slot = 1; slot <= 32; ++slot) {
    std::uint8_t& row = in_row_[slot - 1U];
    row = static_cast<std::uint8_t>(row + ((failed_ & bit_of(slot)) != 0 && row < 99 ? 1 : 0));
  }
  failed_ = 0;
  slots_ = trying_ = slot_mask;
  Outcome outcome = done;
  for (std::uint8_t slot = 1; slot <= 32 && outcome.ok(); ++slot) {
    tries_[slot - 1U] = 1;
    if ((slot_mask & bit_of(slot)) != 0) {
      outcome = put(slot, word_of(format::log_begun), supply_mv, 0);
    }
  }
  return outcome;
}

Outcome RunLog::begin_again(std::uint8_t slot, std::uint16_t supply_mv) {
  const std::uint32_t bit = bit_of(slot);
  const bool ended_badly = (slots_ & failed_ & ~trying_ & bit) != 0;
  if (!open_ || !ended_badly) {
    return refuse(open_ ? Fault::text_form : Fault::log_write);
  }
  if (tries_[slot - 1U] >= format::log_tries) {
    return refuse(Fault::log_full, station_.job().log.first);
  }
  const Outcome outcome = room_for(2 + bits_in(trying_));
  if (!outcome.ok()) {
    return outcome;
  }
  ++tries_[slot - 1U];
  trying_ |= bit;
  return put(slot, word_of(format::log_begun), supply_mv, 0);
}

Outcome RunLog::end(const UnitEnd& end) {
  const std::uint32_t bit = bit_of(end.slot);
  if (!open_ || (trying_ & bit) == 0 || end.outcome == word_of(format::log_begun)) {
    return refuse(open_ ? Fault::text_form : Fault::log_write);
  }
  const Outcome outcome = put(end.slot, end.outcome, end.supply_mv, end.duration_ms);
  if (end.outcome == word_of(format::log_good)) {
    in_row_[end.slot - 1U] = 0;
    failed_ &= ~bit;
  } else if (outcome.fault != Fault::text_form) {
    failed_ |= bit;
  }
  trying_ &= outcome.fault == Fault::text_form ? ~std::uint32_t{0} : ~bit;
  return outcome;
}

std::uint64_t RunLog::chained(std::uint64_t before, format::LogSectorView sector) const {
  std::array<std::uint8_t, 8> previous{};
  store_be64(previous.data(), before);
  const ByteView record = format::log_bytes_before_chain(sector);
  format::Digest digest{};
  crypto_.sha256_start(crypto_.context);
  crypto_.sha256_add(crypto_.context, previous.data(), previous.size());
  crypto_.sha256_add(crypto_.context, record.data(), record.size());
  crypto_.sha256_finish(crypto_.context, digest.data());
  return load_be64(digest.data());
}

bool RunLog::write_note(format::LogNote& note) {
  note.generation = ++generation_;
  cell_ = 1 - cell_;
  format::LogNoteBytes bytes{};
  format::store_log_note(note, bytes);
  return notes_.write(notes_.context, cell_, bytes) && notes_.sync(notes_.context);
}

Outcome RunLog::write_card(const format::LogNote& note) {
  const bool written =
      card_.write(card_.context, note.lba, note.sector) && card_.sync(card_.context);
  const Outcome outcome = need(written, Fault::log_write, note.lba);
  open_ = open_ && outcome.ok();
  return outcome;
}

format::LogRecord RunLog::record_of(std::uint8_t slot, const format::LogWord& outcome) const {
  format::LogRecord r;
  r.station = capitals(station_.memory().head().station);
  r.enrolment = station_.memory().head().enrolment;
  r.session = session_;
  r.cycle = cycle_;
  r.slot = slot;
  if (station_.job().allotment.scheme.present) {
    r.ordinal.set(ordinals_[slot - 1U]);
  }
  r.outcome = outcome;
  r.tries = tries_[slot - 1U];
  r.date = entered_.date;
  r.shift = entered_.shift;
  r.fixture = entered_.fixture;
  r.reel = entered_.reel;
  r.panel = entered_.panel;
  return r;
}

// A record with what was entered, to see whether it can be written at all.
format::LogRecord RunLog::probe() const {
  format::LogRecord r = record_of(1, word_of(format::log_begun));
  r.session = r.cycle = 1;
  r.tries = 1;
  r.ordinal = {};
  return r;
}

Outcome RunLog::put(std::uint8_t slot, const format::LogWord& outcome, std::uint16_t supply_mv,
                    std::uint32_t duration_ms) {
  const format::LogExtent& log = station_.job().log;
  if (writes() && next_ >= log.count) { // whatever was promised: not beyond it
    open_ = false;
    return refuse(Fault::log_full, log.first + log.count);
  }
  format::LogRecord r = record_of(slot, outcome);
  r.supply_mv = supply_mv;
  r.duration_ms = duration_ms;
  format::LogNote note;
  if (!format::render_log_record(r, note.sector)) {
    return refuse(Fault::text_form);
  }
  if (!writes()) {
    return done;
  }
  r.chain = chain_ = chained(chain_, note.sector);
  format::render_log_record(r, note.sector);
  note.lba = log.first + next_++;
  note.card = station_.job().card_id;
  const Outcome noted = need(write_note(note), Fault::log_write, note.lba);
  open_ = open_ && noted.ok();
  return noted.ok() ? write_card(note) : noted;
}

} // namespace cardseal::loader
