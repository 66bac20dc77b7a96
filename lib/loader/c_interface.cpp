// The C interface over Station and RunLog: tables of C functions become those of the core, values
// become C structs, and what is called in a wrong way gets a number.
#include <iterator>
#include <new>

#include "loader/cardseal_loader.h"
#include "loader/run_log.h"

namespace cardseal::loader {
namespace {

constexpr std::uint32_t open_mark = 0xCA5E'10ADU;

bool read_card(void* context, std::uint32_t lba, ByteSpan out) {
  const auto& card = static_cast<const cardseal_host*>(context)->card;
  return card.read(card.context, lba, out.data(), out.size()) != 0;
}
bool write_card(void* context, std::uint32_t lba, ByteView sector) {
  const auto& card = static_cast<const cardseal_host*>(context)->card;
  return card.write(card.context, lba, sector.data()) != 0;
}
bool sync_card(void* context) {
  const auto& card = static_cast<const cardseal_host*>(context)->card;
  return card.sync(card.context) != 0;
}

bool read_state(void* context, unsigned slot, std::uint32_t offset, ByteSpan out) {
  const auto& state = static_cast<const cardseal_host*>(context)->state;
  return state.read(state.context, slot, offset, out.data(), out.size()) != 0;
}
bool write_state(void* context, unsigned slot, std::uint32_t offset, ByteView bytes) {
  const auto& state = static_cast<const cardseal_host*>(context)->state;
  return state.write(state.context, slot, offset, bytes.data(), bytes.size()) != 0;
}
bool sync_state(void* context) {
  const auto& state = static_cast<const cardseal_host*>(context)->state;
  return state.sync(state.context) != 0;
}

bool read_note(void* context, unsigned cell, ByteSpan out) {
  const auto& notes = static_cast<const cardseal_host*>(context)->notes;
  return notes.read(notes.context, cell, out.data(), out.size()) != 0;
}
bool write_note(void* context, unsigned cell, ByteView bytes) {
  const auto& notes = static_cast<const cardseal_host*>(context)->notes;
  return notes.write(notes.context, cell, bytes.data(), bytes.size()) != 0;
}
bool sync_notes(void* context) {
  const auto& notes = static_cast<const cardseal_host*>(context)->notes;
  return notes.sync(notes.context) != 0;
}

void hash_start(void* context) {
  const auto& crypto = static_cast<const cardseal_host*>(context)->crypto;
  crypto.sha256_start(crypto.context);
}
void hash_add(void* context, const std::uint8_t* bytes, std::size_t size) {
  const auto& crypto = static_cast<const cardseal_host*>(context)->crypto;
  crypto.sha256_add(crypto.context, bytes, size);
}
void hash_finish(void* context, std::uint8_t* digest) {
  const auto& crypto = static_cast<const cardseal_host*>(context)->crypto;
  crypto.sha256_finish(crypto.context, digest);
}
bool verify(void* context, const std::uint8_t* key, const std::uint8_t* head, std::size_t head_size,
            const std::uint8_t* body, std::size_t body_size, const std::uint8_t* signature) {
  const auto& crypto = static_cast<const cardseal_host*>(context)->crypto;
  return crypto.ed25519_verify(crypto.context, key, head, head_size, body, body_size, signature) !=
         0;
}

bool complete(const cardseal_host& host) {
  const auto& [card, state, notes, crypto] = host;
  return card.read != nullptr && card.write != nullptr && card.sync != nullptr &&
         state.read != nullptr && state.write != nullptr && state.sync != nullptr &&
         notes.read != nullptr && notes.write != nullptr && notes.sync != nullptr &&
         crypto.sha256_start != nullptr && crypto.sha256_add != nullptr &&
         crypto.sha256_finish != nullptr && crypto.ed25519_verify != nullptr;
}

cardseal_outcome answer(const Outcome& outcome) {
  return {static_cast<std::uint16_t>(outcome.fault), outcome.item, outcome.position};
}
constexpr cardseal_outcome misuse(cardseal_reason reason) {
  return {static_cast<std::uint16_t>(reason), 0, 0};
}

template <std::size_t N, std::size_t M>
void put_text(char (&out)[N], const format::Text<M>& text) {
  static_assert(N == M + 1);
  for (std::size_t i = 0; i < M; ++i) {
    out[i] = i < text.size ? text.bytes[i] : '\0';
  }
  out[M] = '\0';
}

// False, when the text is longer than a word of the log.
bool take_word(const char* text, format::LogWord& word) {
  word = {};
  while (text != nullptr && *text != '\0') {
    if (word.size == word.bytes.size()) {
      return false;
    }
    word.bytes[word.size++] = *text++;
  }
  return true;
}

bool take_entered(const cardseal_entered& from, Entered& to) {
  return take_word(from.date, to.date) && take_word(from.shift, to.shift) &&
         take_word(from.fixture, to.fixture) && take_word(from.reel, to.reel) &&
         take_word(from.panel, to.panel);
}

void put_settings(const format::Manifest& m, cardseal_job& out) {
  put_text(out.title, m.title);
  put_text(out.release, m.release);
  put_text(out.product, m.product);
  put_text(out.device, m.device);
  put_text(out.board, m.board);
  out.board_revision = m.board_revision;
  out.supply = static_cast<std::uint8_t>(m.supply_source);
  out.erase = static_cast<std::uint8_t>(m.erase);
  out.blank_check = m.blank_check == format::YesNo::yes ? 1 : 0;
  out.verify = static_cast<std::uint8_t>(m.verify);
  out.lock = static_cast<std::uint8_t>(m.lock);
  out.stop_after = m.stop_after;
  if (m.device_id.present) {
    out.device_id_size = m.device_id.value.size;
    copy(out.device_id, m.device_id.value.value);
    copy(out.device_mask, m.device_id.value.mask);
  }
  out.segments = m.segments.count;
  out.kept_ranges = m.kept.count;
  out.placements = m.placements.count;
  out.permitted_slots = m.slots;
  out.supply_mv = m.supply_mv;
  if (m.verify_limits.present) {
    out.verify_low_mv = m.verify_limits.value.low_mv;
    out.verify_high_mv = m.verify_limits.value.high_mv;
  }
  out.image_size = m.image_size;
}

void put_job(const Station& station, cardseal_job& out) {
  const Job& job = station.job();
  const format::Allotment& a = job.allotment;
  put_settings(job.manifest, out);
  copy(out.manifest, job.verdict.manifest_digest);
  copy(out.card_id, job.card_id);
  put_text(out.work_order, a.work_order);
  out.work_class = static_cast<std::uint8_t>(a.work_class);
  out.has_serials = a.scheme.present ? 1 : 0;
  out.enabled_slots = a.enabled_slots;
  out.units = a.units;
  out.units_left = station.units_left();
  out.first_ordinal = a.first;
  out.ordinals = a.count;
  out.next_ordinal = a.first + job.used.ordinals_used;
  out.numbers = static_cast<std::uint8_t>(a.numbers);
}

constexpr FaultText wrong_calls[] = {
    {static_cast<Fault>(CARDSEAL_WRONG_ORDER), "CALL ORDER",
     "the station's firmware called the loader in a wrong order",
     "ask whoever made this station's firmware"},
    {static_cast<Fault>(CARDSEAL_NULL_POINTER), "CALL NULL",
     "the station's firmware gave the loader no pointer where it needs one",
     "ask whoever made this station's firmware"},
    {static_cast<Fault>(CARDSEAL_MEMORY_SMALL), "CALL MEMORY",
     "the station's firmware gave the loader too little memory, or not aligned",
     "ask whoever made this station's firmware"},
    {static_cast<Fault>(CARDSEAL_NO_SUCH_ITEM), "CALL ITEM",
     "the station's firmware asked the loader for something that is not there",
     "ask whoever made this station's firmware"},
};

void put_fault(const FaultText& fault, cardseal_text& out) {
  out.reason = static_cast<std::uint16_t>(fault.fault);
  out.display = fault.display.data(); // all three are literals, so a zero follows
  out.sentence = fault.sentence.data();
  out.advice = fault.advice.data();
}

static_assert(CARDSEAL_SECTOR_SIZE == format::log_sector);
static_assert(CARDSEAL_STATE_SLOT_SIZE == format::state::slot_size);
static_assert(CARDSEAL_NOTE_SIZE == format::log_note_size);
static_assert(CARDSEAL_BLOCK_SIZE == format::chain_block);
static_assert(CARDSEAL_UNIT_TEXT_SIZE == unit::max_text + 1);
static_assert(CARDSEAL_UNIT_BYTES_SIZE == std::tuple_size_v<decltype(unit::UnitBytes::bytes)>);
static_assert(CARDSEAL_TRIES == format::log_tries);
static_assert(CARDSEAL_SUPPLY_BOARD == static_cast<int>(format::SupplySource::board));
static_assert(CARDSEAL_ERASE_CHIP == static_cast<int>(format::Erase::chip));
static_assert(CARDSEAL_VERIFY_NOMINAL == static_cast<int>(format::Verify::nominal));
static_assert(CARDSEAL_VERIFY_LOW_HIGH == static_cast<int>(format::Verify::low_high));
static_assert(CARDSEAL_LOCK_REVERSIBLE == static_cast<int>(format::Lock::reversible));
static_assert(CARDSEAL_LOCK_PERMANENT == static_cast<int>(format::Lock::permanent));
static_assert(CARDSEAL_NUMBERS_NEW == static_cast<int>(format::Numbers::fresh));
static_assert(CARDSEAL_NUMBERS_STATED == static_cast<int>(format::Numbers::stated));
static_assert(CARDSEAL_CLASS_ENGINEERING == static_cast<int>(format::WorkClass::engineering));
static_assert(CARDSEAL_CLASS_SAMPLE == static_cast<int>(format::WorkClass::sample));
static_assert(CARDSEAL_BAD_WORD == static_cast<int>(Fault::text_form));
static_assert(CARDSEAL_SLOT_SET == static_cast<int>(Fault::allotment_slots));
static_assert(CARDSEAL_USED_UP == static_cast<int>(Fault::allotment_used_up));
static_assert(CARDSEAL_CARD_READ == static_cast<int>(Fault::card_read));
static_assert(CARDSEAL_BLOCK == static_cast<int>(Fault::image_block));
static_assert(CARDSEAL_MEMORY_WRITE == static_cast<int>(Fault::state_write));
static_assert(CARDSEAL_LOG_FULL == static_cast<int>(Fault::log_full));
static_assert(CARDSEAL_LOG_WRITE == static_cast<int>(Fault::log_write));
static_assert(CARDSEAL_SLOT_STOPPED == static_cast<int>(Fault::slot_stopped));
static_assert(CARDSEAL_OTHER_BOARD == static_cast<int>(Fault::board_other));

} // namespace
} // namespace cardseal::loader

using namespace cardseal;
using namespace cardseal::loader;

struct cardseal_loader {
  explicit cardseal_loader(const cardseal_host& from)
      : host(from), reader{&host, read_card, from.card.sector_count},
        writer{&host, write_card, sync_card}, notes{&host, read_note, write_note, sync_notes},
        storage{&host, read_state, write_state, sync_state}, crypto{&host, hash_start, hash_add,
                                                                    hash_finish, verify},
        station(arena, reader, storage, crypto), log(station, writer, notes, crypto) {}

  std::uint32_t mark = open_mark;
  bool judged = false;   // `choice`, whatever came of it
  bool selected = false; // and its log is open
  std::uint16_t choice = 0;
  std::uint16_t jobs = 0; // on the card, as cardseal_admit counted them
  Outcome verdict;        // of `choice`
  cardseal_host host;
  SectorReader reader;
  SectorWriter writer;
  NoteStorage notes;
  StateStorage storage;
  trust::CryptoTable crypto;
  Arena arena;
  Station station;
  RunLog log;

  void forget() {
    judged = selected = false;
    jobs = 0;
  }
  void judge(std::uint16_t index) {
    selected = false;
    if (!judged || choice != index) {
      verdict = station.admit(index);
      choice = index;
      judged = true;
    }
  }
};

static_assert(sizeof(cardseal_loader) <= CARDSEAL_MEMORY_SIZE);
static_assert(alignof(cardseal_loader) <= CARDSEAL_MEMORY_ALIGN);

namespace {

// What is wrong with a call before anything is done: 902, 901, or 0.
cardseal_outcome look_at(const cardseal_loader* loader, bool given = true) {
  if (loader == nullptr || !given) {
    return misuse(CARDSEAL_NULL_POINTER);
  }
  return misuse(loader->mark == open_mark ? CARDSEAL_DONE : CARDSEAL_WRONG_ORDER);
}
cardseal_outcome need_job(const cardseal_loader* loader, std::uint16_t index, bool given) {
  const cardseal_outcome out = look_at(loader, given);
  if (out.reason != 0 || index < loader->jobs) {
    return out;
  }
  return misuse(loader->jobs == 0 ? CARDSEAL_WRONG_ORDER : CARDSEAL_NO_SUCH_ITEM);
}
cardseal_outcome need_admitted(const cardseal_loader* loader, bool given = true) {
  const cardseal_outcome out = look_at(loader, given);
  const bool wrong = out.reason == 0 && !(loader->judged && loader->station.admitted());
  return wrong ? misuse(CARDSEAL_WRONG_ORDER) : out;
}
cardseal_outcome need_selected(const cardseal_loader* loader, bool given = true) {
  const cardseal_outcome out = look_at(loader, given);
  return out.reason == 0 && !loader->selected ? misuse(CARDSEAL_WRONG_ORDER) : out;
}

// A range of a list of the job's, by its index.
template <class List, class Put>
cardseal_outcome get_range(const cardseal_loader* loader, std::uint16_t index,
                           cardseal_range* range, List list, Put put) {
  const cardseal_outcome out = need_admitted(loader, range != nullptr);
  if (out.reason != 0) {
    return out;
  }
  const auto& items = list(loader->station.job().manifest);
  if (index >= items.count) {
    return misuse(CARDSEAL_NO_SUCH_ITEM);
  }
  *range = {};
  range->address = items.items[index].address;
  range->length = items.items[index].length;
  put(items.items[index]);
  return out;
}

} // namespace

cardseal_outcome cardseal_open(void* memory, std::size_t size, const cardseal_host* host,
                               cardseal_loader** loader) {
  if (memory == nullptr || host == nullptr || loader == nullptr || !complete(*host)) {
    return misuse(CARDSEAL_NULL_POINTER);
  }
  if (size < CARDSEAL_MEMORY_SIZE ||
      reinterpret_cast<std::uintptr_t>(memory) % CARDSEAL_MEMORY_ALIGN != 0) {
    return misuse(CARDSEAL_MEMORY_SMALL);
  }
  *loader = new (memory) cardseal_loader(*host);
  return misuse(CARDSEAL_DONE);
}

cardseal_outcome cardseal_set_card(cardseal_loader* loader, std::uint32_t sector_count) {
  const cardseal_outcome out = look_at(loader);
  if (out.reason == 0) {
    loader->forget();
    loader->reader.sector_count = sector_count;
  }
  return out;
}

cardseal_outcome cardseal_admit(cardseal_loader* loader, std::uint16_t* jobs) {
  const cardseal_outcome out = look_at(loader, jobs != nullptr);
  if (out.reason != 0) {
    return out;
  }
  loader->forget();
  loader->judge(0);
  *jobs = loader->jobs = loader->station.jobs();
  return answer(loader->verdict);
}

cardseal_outcome cardseal_get_job(cardseal_loader* loader, std::uint16_t index, cardseal_job* job) {
  const cardseal_outcome out = need_job(loader, index, job != nullptr);
  if (out.reason != 0) {
    return out;
  }
  loader->judge(index);
  *job = {};
  if (loader->station.admitted() || loader->station.finished()) {
    put_job(loader->station, *job);
  }
  return answer(loader->verdict);
}

cardseal_outcome cardseal_select(cardseal_loader* loader, std::uint16_t index,
                                 const cardseal_entered* entered) {
  const cardseal_outcome out = need_job(loader, index, true);
  Entered words;
  if (out.reason != 0) {
    return out;
  }
  if (entered != nullptr && !take_entered(*entered, words)) {
    return answer(refuse(Fault::text_form));
  }
  loader->judge(index);
  if (!loader->station.admitted() && !loader->station.finished()) {
    return answer(loader->verdict);
  }
  const Outcome opened = loader->log.open(words);
  loader->selected = loader->station.admitted() && opened.ok();
  return answer(opened.ok() ? loader->verdict : opened);
}

cardseal_outcome cardseal_get_segment(const cardseal_loader* loader, std::uint16_t index,
                                      cardseal_range* range) {
  return get_range(
      loader, index, range, [](const auto& m) -> const auto& { return m.segments; },
      [](const auto&) {});
}

cardseal_outcome cardseal_get_kept(const cardseal_loader* loader, std::uint16_t index,
                                   cardseal_range* range) {
  return get_range(
      loader, index, range, [](const auto& m) -> const auto& { return m.kept; },
      [&](const auto& kept) { put_text(range->region, kept.region); });
}

cardseal_outcome cardseal_get_placement(const cardseal_loader* loader, std::uint16_t index,
                                        cardseal_range* range) {
  return get_range(
      loader, index, range, [](const auto& m) -> const auto& { return m.placements; },
      [&](const auto& placement) { put_text(range->region, placement.region); });
}

cardseal_outcome cardseal_image_start(cardseal_loader* loader) {
  const cardseal_outcome out = need_admitted(loader);
  return out.reason == 0 ? answer(loader->station.start_image()) : out;
}

cardseal_outcome cardseal_image_next(cardseal_loader* loader, const std::uint8_t** bytes,
                                     std::size_t* size) {
  const cardseal_outcome out = need_admitted(loader, bytes != nullptr && size != nullptr);
  if (out.reason != 0) {
    return out;
  }
  ByteView block;
  const Outcome outcome = loader->station.next_block(block);
  *bytes = outcome.ok() ? block.data() : nullptr;
  *size = outcome.ok() ? block.size() : 0;
  return answer(outcome);
}

cardseal_outcome cardseal_unit_text(const cardseal_loader* loader, std::uint64_t ordinal,
                                    char text[CARDSEAL_UNIT_TEXT_SIZE]) {
  const cardseal_outcome out = need_admitted(loader, text != nullptr);
  if (out.reason != 0) {
    return out;
  }
  unit::UnitText found;
  const Outcome outcome = loader->station.unit_text(ordinal, found);
  for (std::size_t i = 0; i < CARDSEAL_UNIT_TEXT_SIZE; ++i) {
    text[i] = outcome.ok() && i < found.size ? found.bytes[i] : '\0';
  }
  return answer(outcome);
}

cardseal_outcome cardseal_unit_bytes(const cardseal_loader* loader, std::uint64_t ordinal,
                                     std::uint16_t placement,
                                     std::uint8_t bytes[CARDSEAL_UNIT_BYTES_SIZE],
                                     std::size_t* size) {
  const cardseal_outcome out = need_admitted(loader, bytes != nullptr && size != nullptr);
  if (out.reason != 0) {
    return out;
  }
  if (placement >= loader->station.job().manifest.placements.count) {
    return misuse(CARDSEAL_NO_SUCH_ITEM);
  }
  unit::UnitBytes found;
  const Outcome outcome = loader->station.unit_bytes(ordinal, placement, found);
  *size = outcome.ok() ? found.size : 0;
  copy(ByteSpan(bytes, *size), ByteView(found.bytes).first(*size));
  return answer(outcome);
}

cardseal_outcome cardseal_begin_cycle(cardseal_loader* loader, std::uint32_t slots,
                                      std::uint16_t supply_mv, std::uint64_t* first_ordinal) {
  const cardseal_outcome out = need_selected(loader, first_ordinal != nullptr);
  return out.reason == 0 ? answer(loader->log.begin_cycle(slots, supply_mv, *first_ordinal)) : out;
}

cardseal_outcome cardseal_ordinal_on_board(const cardseal_loader* loader, std::uint16_t placement,
                                           const std::uint8_t* bytes, std::size_t size,
                                           std::uint64_t* ordinal) {
  const cardseal_outcome out = need_admitted(loader, bytes != nullptr && ordinal != nullptr);
  if (out.reason != 0) {
    return out;
  }
  if (placement >= loader->station.job().manifest.placements.count) {
    return misuse(CARDSEAL_NO_SUCH_ITEM);
  }
  return answer(loader->station.ordinal_on_board(placement, ByteView(bytes, size), *ordinal));
}

cardseal_outcome cardseal_ordinal_on_label(const cardseal_loader* loader, const char* text,
                                           std::uint64_t* ordinal) {
  const cardseal_outcome out = need_admitted(loader, text != nullptr && ordinal != nullptr);
  if (out.reason != 0) {
    return out;
  }
  std::size_t size = 0;
  while (size <= unit::max_text && text[size] != '\0') {
    ++size;
  }
  return answer(loader->station.ordinal_on_label(std::string_view(text, size), *ordinal));
}

cardseal_outcome cardseal_begin_boards(cardseal_loader* loader, std::uint32_t slots,
                                       std::uint16_t supply_mv, const std::uint64_t* ordinals) {
  const cardseal_outcome out = need_selected(loader, ordinals != nullptr);
  if (out.reason != 0) {
    return out;
  }
  std::size_t count = 0;
  for (std::uint32_t left = slots; left != 0; left &= left - 1) {
    ++count;
  }
  return answer(loader->log.begin_boards(slots, supply_mv, {ordinals, count}));
}

cardseal_outcome cardseal_begin_again(cardseal_loader* loader, std::uint8_t slot,
                                      std::uint16_t supply_mv) {
  const cardseal_outcome out = need_selected(loader);
  return out.reason == 0 ? answer(loader->log.begin_again(slot, supply_mv)) : out;
}

cardseal_outcome cardseal_record(cardseal_loader* loader, std::uint8_t slot, const char* word,
                                 std::uint16_t supply_mv, std::uint32_t duration_ms) {
  const cardseal_outcome out = need_selected(loader, word != nullptr);
  if (out.reason != 0) {
    return out;
  }
  UnitEnd end;
  end.slot = slot;
  end.supply_mv = supply_mv;
  end.duration_ms = duration_ms;
  return answer(take_word(word, end.outcome) ? loader->log.end(end) : refuse(Fault::text_form));
}

std::uint32_t cardseal_stopped_slots(const cardseal_loader* loader) {
  return need_selected(loader).reason == 0 ? loader->log.stopped_slots() : 0;
}

std::uint32_t cardseal_units_left(const cardseal_loader* loader) {
  return need_admitted(loader).reason == 0 ? loader->station.units_left() : 0;
}

cardseal_outcome cardseal_close(cardseal_loader* loader) {
  const cardseal_outcome out = look_at(loader);
  if (out.reason == 0) {
    loader->~cardseal_loader();
    fill({reinterpret_cast<std::uint8_t*>(loader), sizeof(cardseal_loader)}, 0);
  }
  return out;
}

std::size_t cardseal_text_count(void) {
  return all_faults().size() + std::size(wrong_calls);
}

cardseal_outcome cardseal_text_at(std::size_t index, cardseal_text* text) {
  if (text == nullptr) {
    return misuse(CARDSEAL_NULL_POINTER);
  }
  *text = {};
  const std::size_t own = all_faults().size();
  if (index >= cardseal_text_count()) {
    put_fault(wrong_calls[3], *text);
    return misuse(CARDSEAL_NO_SUCH_ITEM);
  }
  put_fault(index < own ? all_faults()[index] : wrong_calls[index - own], *text);
  return misuse(CARDSEAL_DONE);
}

cardseal_outcome cardseal_text_of(std::uint16_t reason, cardseal_text* text) {
  if (text == nullptr) {
    return misuse(CARDSEAL_NULL_POINTER);
  }
  if (reason == 0) {
    put_fault(fault_text(Fault::none), *text);
    return misuse(CARDSEAL_DONE);
  }
  for (std::size_t i = 0; i < cardseal_text_count(); ++i) {
    const cardseal_outcome out = cardseal_text_at(i, text);
    if (text->reason == reason) {
      return out;
    }
  }
  return cardseal_text_at(cardseal_text_count(), text);
}
