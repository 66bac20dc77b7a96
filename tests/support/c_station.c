#include "c_station.h"

#include <string.h>

#define NEED(what)                                                                                 \
  do {                                                                                             \
    if (!(what)) {                                                                                 \
      return __LINE__;                                                                             \
    }                                                                                              \
  } while (0)

/* As a station's firmware would have it: one piece of memory, aligned by its type. */
static uint64_t memory[CARDSEAL_MEMORY_SIZE / sizeof(uint64_t)];

static int is_done(cardseal_outcome outcome) {
  return outcome.reason == CARDSEAL_DONE;
}

static int take_image(cardseal_loader* loader, struct c_station_work* work) {
  const uint8_t* bytes = NULL;
  size_t size = 0;
  NEED(is_done(cardseal_image_start(loader)));
  work->image_size = 0;
  do {
    NEED(is_done(cardseal_image_next(loader, &bytes, &size)));
    NEED(size <= CARDSEAL_BLOCK_SIZE && work->image_size + size <= sizeof work->image);
    if (size > 0) {
      memcpy(work->image + work->image_size, bytes, size);
      work->image_size += size;
    }
  } while (size > 0);
  return 0;
}

static int take_units(cardseal_loader* loader, struct c_station_work* work) {
  uint64_t at = work->first_ordinal;
  NEED(is_done(cardseal_unit_text(loader, at, work->texts[0])));
  NEED(is_done(cardseal_unit_text(loader, at + 1, work->texts[1])));
  NEED(is_done(cardseal_unit_bytes(loader, at, 0, work->unit, &work->unit_size)));
  return 0;
}

static int start(const cardseal_host* host, uint16_t index, struct c_station_work* work,
                 cardseal_loader** loader) {
  const cardseal_entered entered = {"2026-03-02", NULL, "FX-07", "", NULL};
  NEED(is_done(cardseal_open(memory, sizeof memory, host, loader)));
  NEED(is_done(cardseal_admit(*loader, &work->jobs)));
  NEED(is_done(cardseal_get_job(*loader, index, &work->job)));
  NEED(is_done(cardseal_get_segment(*loader, 0, &work->segment)));
  NEED(is_done(cardseal_get_placement(*loader, 0, &work->placement)));
  NEED(is_done(cardseal_select(*loader, index, &entered)));
  return 0;
}

int c_station_cycle(const cardseal_host* host, uint16_t index, int stop_early,
                    struct c_station_work* work) {
  cardseal_loader* loader = NULL;
  int line = start(host, index, work, &loader);
  if (line != 0) {
    return line;
  }
  NEED(is_done(cardseal_begin_cycle(loader, 3, 3297, &work->first_ordinal)));
  line = take_image(loader, work);
  line = line != 0 ? line : take_units(loader, work);
  if (line != 0) {
    return line;
  }
  work->units_left = cardseal_units_left(loader);
  NEED(is_done(cardseal_record(loader, 1, "GOOD", 3290, 1500)));
  if (stop_early) {
    return 0;
  }
  NEED(is_done(cardseal_record(loader, 2, "VERIFY", 3290, 1600)));
  NEED(is_done(cardseal_begin_again(loader, 2, 3297)));
  NEED(is_done(cardseal_record(loader, 2, "GOOD", 3291, 1700)));
  NEED(is_done(cardseal_close(loader)));
  return 0;
}

int c_station_boards(const cardseal_host* host, const uint8_t* bytes, size_t size,
                     const char* label) {
  cardseal_loader* loader = NULL;
  uint16_t jobs = 0;
  cardseal_job job;
  uint64_t ordinals[2];
  uint64_t first = 0;
  NEED(is_done(cardseal_open(memory, sizeof memory, host, &loader)));
  NEED(is_done(cardseal_admit(loader, &jobs)));
  NEED(is_done(cardseal_get_job(loader, 0, &job)));
  NEED(job.numbers == CARDSEAL_NUMBERS_KEPT);
  NEED(is_done(cardseal_select(loader, 0, NULL)));
  NEED(cardseal_begin_cycle(loader, 1, 3300, &first).reason == 391);
  NEED(is_done(cardseal_ordinal_on_label(loader, label, &ordinals[0])));
  NEED(is_done(cardseal_ordinal_on_board(loader, 0, bytes, size, &ordinals[1])));
  NEED(cardseal_ordinal_on_board(loader, 99, bytes, size, &first).reason == CARDSEAL_NO_SUCH_ITEM);
  NEED(cardseal_ordinal_on_label(loader, NULL, &first).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_ordinal_on_label(loader, "?", &first).reason == CARDSEAL_BAD_WORD);
  NEED(cardseal_begin_boards(loader, 5, 3300, NULL).reason == CARDSEAL_NULL_POINTER);
  NEED(is_done(cardseal_begin_boards(loader, 5, 3300, ordinals)));
  NEED(is_done(cardseal_record(loader, 1, "GOOD", 3300, 1)));
  NEED(is_done(cardseal_record(loader, 3, "GOOD", 3300, 1)));
  NEED(is_done(cardseal_close(loader)));
  return 0;
}

int c_station_reason(const cardseal_host* host, uint16_t* reason) {
  cardseal_loader* loader = NULL;
  uint16_t jobs = 0;
  cardseal_range range;
  cardseal_text text;
  uint64_t ordinal = 0;
  NEED(is_done(cardseal_open(memory, sizeof memory, host, &loader)));
  *reason = cardseal_admit(loader, &jobs).reason;
  NEED(is_done(cardseal_text_of(*reason, &text)) && text.reason == *reason);
  NEED(strlen(text.display) <= CARDSEAL_DISPLAY_WIDTH);
  if (*reason != 0) { /* then nothing of the card is to be had */
    NEED(cardseal_image_start(loader).reason == CARDSEAL_WRONG_ORDER);
    NEED(cardseal_get_segment(loader, 0, &range).reason == CARDSEAL_WRONG_ORDER);
    NEED(cardseal_begin_cycle(loader, 1, 0, &ordinal).reason == CARDSEAL_WRONG_ORDER);
  }
  return 0;
}

/* Before and after its time, and without a pointer. */
static int misuse_of_order(cardseal_loader* loader) {
  uint16_t jobs = 0;
  uint64_t ordinal = 0;
  size_t size = 0;
  const uint8_t* bytes = NULL;
  uint8_t unit[CARDSEAL_UNIT_BYTES_SIZE];
  char text[CARDSEAL_UNIT_TEXT_SIZE];
  cardseal_job job;
  cardseal_range range;
  NEED(cardseal_get_job(loader, 0, &job).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_select(loader, 0, NULL).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_get_segment(loader, 0, &range).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_get_kept(loader, 0, &range).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_get_placement(loader, 0, &range).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_image_start(loader).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_image_next(loader, &bytes, &size).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_unit_text(loader, 0, text).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_unit_bytes(loader, 0, 0, unit, &size).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_begin_cycle(loader, 1, 3300, &ordinal).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_begin_again(loader, 1, 3300).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_record(loader, 1, "GOOD", 3300, 1).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_units_left(loader) == 0 && cardseal_stopped_slots(loader) == 0);
  NEED(cardseal_admit(loader, NULL).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_admit(NULL, &jobs).reason == CARDSEAL_NULL_POINTER);
  return 0;
}

static int misuse_of_open(const cardseal_host* host) {
  cardseal_loader* loader = NULL;
  cardseal_host part = *host;
  uint8_t* crooked = (uint8_t*)memory + 1;
  NEED(cardseal_open(NULL, sizeof memory, host, &loader).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_open(memory, sizeof memory, NULL, &loader).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_open(memory, sizeof memory, host, NULL).reason == CARDSEAL_NULL_POINTER);
  part.notes.sync = NULL;
  NEED(cardseal_open(memory, sizeof memory, &part, &loader).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_open(memory, sizeof memory - 1, host, &loader).reason == CARDSEAL_MEMORY_SMALL);
  NEED(cardseal_open(crooked, sizeof memory, host, &loader).reason == CARDSEAL_MEMORY_SMALL);
  NEED(loader == NULL);
  NEED(cardseal_close(NULL).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_units_left(NULL) == 0 && cardseal_stopped_slots(NULL) == 0);
  return 0;
}

static int misuse_of_items(cardseal_loader* loader) {
  const cardseal_entered bad = {"2026-03-02", "early", NULL, NULL, NULL};
  const cardseal_entered long_one = {NULL, NULL, NULL, NULL, "A234567890123456789012345"};
  uint16_t jobs = 0;
  uint64_t ordinal = 0;
  size_t size = 0;
  const uint8_t* bytes = NULL;
  uint8_t unit[CARDSEAL_UNIT_BYTES_SIZE];
  cardseal_job job;
  cardseal_range range;
  NEED(is_done(cardseal_admit(loader, &jobs)) && jobs == 1);
  NEED(cardseal_get_job(loader, 1, &job).reason == CARDSEAL_NO_SUCH_ITEM);
  NEED(cardseal_get_job(loader, 0, NULL).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_get_segment(loader, 64, &range).reason == CARDSEAL_NO_SUCH_ITEM);
  NEED(cardseal_unit_bytes(loader, 0, 8, unit, &size).reason == CARDSEAL_NO_SUCH_ITEM);
  NEED(cardseal_begin_cycle(loader, 1, 3300, &ordinal).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_image_next(loader, &bytes, &size).reason == CARDSEAL_BLOCK && size == 0);
  NEED(cardseal_select(loader, 0, &bad).reason == CARDSEAL_BAD_WORD);
  NEED(cardseal_select(loader, 0, &long_one).reason == CARDSEAL_BAD_WORD);
  NEED(cardseal_record(loader, 1, "GOOD", 3300, 1).reason == CARDSEAL_WRONG_ORDER);
  NEED(is_done(cardseal_select(loader, 0, NULL)));
  NEED(cardseal_begin_cycle(loader, 0, 3300, &ordinal).reason == CARDSEAL_SLOT_SET);
  NEED(cardseal_begin_cycle(loader, 0x80000000u, 3300, &ordinal).reason == CARDSEAL_SLOT_SET);
  NEED(cardseal_begin_cycle(loader, 1, 3300, NULL).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_record(loader, 1, "GOOD", 3300, 1).reason == CARDSEAL_BAD_WORD);
  NEED(is_done(cardseal_begin_cycle(loader, 1, 3300, &ordinal)));
  NEED(cardseal_record(loader, 0, "GOOD", 3300, 1).reason == CARDSEAL_BAD_WORD);
  NEED(cardseal_record(loader, 33, "GOOD", 3300, 1).reason == CARDSEAL_BAD_WORD);
  NEED(cardseal_record(loader, 1, "good", 3300, 1).reason == CARDSEAL_BAD_WORD);
  NEED(cardseal_record(loader, 1, "", 3300, 1).reason == CARDSEAL_BAD_WORD);
  NEED(cardseal_record(loader, 1, NULL, 3300, 1).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_begin_again(loader, 1, 3300).reason == CARDSEAL_BAD_WORD);
  NEED(is_done(cardseal_record(loader, 1, "GOOD", 3300, 1)));
  NEED(is_done(cardseal_set_card(loader, 70000)));
  return misuse_of_order(loader); /* another card is in: all is to be judged anew */
}

int c_station_misuse(const cardseal_host* host) {
  cardseal_loader* loader = NULL;
  cardseal_text text;
  uint16_t jobs = 0;
  int line = misuse_of_open(host);
  if (line != 0) {
    return line;
  }
  NEED(is_done(cardseal_open(memory, sizeof memory, host, &loader)));
  line = misuse_of_order(loader);
  line = line != 0 ? line : misuse_of_items(loader);
  if (line != 0) {
    return line;
  }
  NEED(is_done(cardseal_close(loader)));
  NEED(cardseal_close(loader).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_admit(loader, &jobs).reason == CARDSEAL_WRONG_ORDER);
  NEED(cardseal_text_at(cardseal_text_count(), &text).reason == CARDSEAL_NO_SUCH_ITEM);
  NEED(cardseal_text_of(999, &text).reason == CARDSEAL_NO_SUCH_ITEM && text.display != NULL);
  NEED(cardseal_text_at(0, NULL).reason == CARDSEAL_NULL_POINTER);
  NEED(cardseal_text_of(0, NULL).reason == CARDSEAL_NULL_POINTER);
  return 0;
}

int c_station_use_up(const cardseal_host* host) {
  cardseal_loader* loader = NULL;
  cardseal_job job;
  uint16_t jobs = 0;
  uint64_t ordinal = 0;
  NEED(is_done(cardseal_open(memory, sizeof memory, host, &loader)));
  NEED(is_done(cardseal_admit(loader, &jobs)));
  NEED(is_done(cardseal_select(loader, 0, NULL)));
  while (cardseal_units_left(loader) > 0) {
    NEED(is_done(cardseal_begin_cycle(loader, 1, 3300, &ordinal)));
    NEED(is_done(cardseal_record(loader, 1, "GOOD", 3300, 1)));
  }
  NEED(cardseal_begin_cycle(loader, 1, 3300, &ordinal).reason == CARDSEAL_USED_UP);
  NEED(cardseal_admit(loader, &jobs).reason == CARDSEAL_USED_UP && jobs == 1);
  NEED(cardseal_get_job(loader, 0, &job).reason == CARDSEAL_USED_UP);
  NEED(job.units_left == 0 && job.units > 0 && job.title[0] != '\0');
  NEED(cardseal_select(loader, 0, NULL).reason == CARDSEAL_USED_UP);
  NEED(cardseal_begin_cycle(loader, 1, 3300, &ordinal).reason == CARDSEAL_WRONG_ORDER);
  return is_done(cardseal_close(loader)) ? 0 : __LINE__;
}
