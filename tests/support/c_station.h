/* A station in C99 that works through cardseal_loader.h alone. Each function answers 0, or the line
 * of c_station.c where something was not as it should be. */
#ifndef CARDSEAL_TESTS_C_STATION_H
#define CARDSEAL_TESTS_C_STATION_H

#include "cardseal_loader.h"

#ifdef __cplusplus
extern "C" {
#endif

enum { c_station_image_limit = 65536, c_station_slots = 32 };

struct c_station_work {
  uint16_t jobs;
  cardseal_job job;
  cardseal_range segment, placement;
  size_t image_size;
  uint8_t image[c_station_image_limit];
  uint64_t first_ordinal;
  char texts[2][CARDSEAL_UNIT_TEXT_SIZE];
  size_t unit_size;
  uint8_t unit[CARDSEAL_UNIT_BYTES_SIZE];
  uint32_t units_left;
};

/* A cycle of slots 1 and 2 on job `index`: slot 1 is good, slot 2 at its second try. Ends without
 * cardseal_close when `stop_early`, with slot 2 begun. */
int c_station_cycle(const cardseal_host* host, uint16_t index, int stop_early,
                    struct c_station_work* work);

/* Slot 3 of job 0 gets the board whose first placement's bytes are `bytes`, slot 1 the one whose
 * label is `label`; both are good. */
int c_station_boards(const cardseal_host* host, const uint8_t* bytes, size_t size,
                     const char* label);

/* The reason of an admission; the station goes on to nothing else. */
int c_station_reason(const cardseal_host* host, uint16_t* reason);

/* Whatever can be called in a wrong way gets its number. The card has one good job. */
int c_station_misuse(const cardseal_host* host);

/* The reasons of a job whose units are taken until none is left. */
int c_station_use_up(const cardseal_host* host);

#ifdef __cplusplus
}
#endif

#endif
