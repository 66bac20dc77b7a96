/* The loader for a station's firmware in C: C99 or later, and C++. README.md beside this file says
 * how to build a station around it.
 *
 * No heap, no operating system, no global data; one loader uses one piece of memory that you give
 * it. Nothing here may be called from two threads at once, nor from inside one of your functions.
 *
 * Order of calls:
 *
 *   cardseal_open                once, at power on
 *   cardseal_set_card, cardseal_admit   each time a card was put in
 *   cardseal_get_job             for each job, to list them (optional)
 *   cardseal_select              the job that the operator chose; the run log is open from here on,
 *                                or no log is written, where the station was enrolled so
 *   for every cycle:
 *     cardseal_begin_cycle       units and ordinals are taken, durable before it returns; or, when
 *                                the boards have numbers (cardseal_numbers), cardseal_begin_boards
 *     cardseal_image_start, cardseal_image_next ... until *size is 0
 *     cardseal_unit_bytes        for each slot and each placement
 *     cardseal_record            what became of each slot; cardseal_begin_again for another try
 *   cardseal_close               when the loader is no longer needed
 *
 * Every function that can fail answers with a cardseal_outcome; reason 0 is done, anything else is
 * a number with a text for a small display and a sentence for the manual (cardseal_text_of). After
 * a reason nothing that the call would have given may be used. Numbers from 901 on say that these
 * functions were called in a wrong way: a fault of the firmware, not of the card.
 */
#ifndef CARDSEAL_LOADER_H
#define CARDSEAL_LOADER_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* What cardseal_open needs: 16 KiB that the loader works in, and 1 KiB for the run log and your
 * tables. The stack comes on top (README.md). */
#define CARDSEAL_MEMORY_SIZE 17408u /* bytes */
#define CARDSEAL_MEMORY_ALIGN 8u

#define CARDSEAL_SECTOR_SIZE 512u
#define CARDSEAL_STATE_SLOTS 2u
#define CARDSEAL_STATE_SLOT_SIZE 18436u /* bytes of one slot of the station's memory */
#define CARDSEAL_NOTE_CELLS 2u
#define CARDSEAL_NOTE_SIZE 548u /* bytes of one cell of the note of the last record */
#define CARDSEAL_BLOCK_SIZE 4096u
#define CARDSEAL_UNIT_TEXT_SIZE 129u  /* characters, with the zero behind */
#define CARDSEAL_UNIT_BYTES_SIZE 128u /* of one placement, at most */
#define CARDSEAL_DISPLAY_WIDTH 16u    /* longest text of a reason for a display */
#define CARDSEAL_TRIES 3u             /* of one board in one cycle */

/* The reasons that a station answers with more than its display; cardseal_text_at has them all. */
enum cardseal_reason {
  CARDSEAL_DONE = 0,
  CARDSEAL_BAD_WORD = 106,     /* what is to be recorded has not the form of the log's words */
  CARDSEAL_SLOT_SET = 394,     /* a slot that the job does not enable */
  CARDSEAL_USED_UP = 395,      /* every unit of this job was started */
  CARDSEAL_CARD_READ = 501,    /* also: the card was pulled */
  CARDSEAL_BLOCK = 510,        /* a block is not the approved one: stop every slot */
  CARDSEAL_MEMORY_WRITE = 603, /* nothing was taken */
  CARDSEAL_LOG_FULL = 611,     /* no room for another cycle or try */
  CARDSEAL_LOG_WRITE = 612,    /* keep the boards of this cycle apart; put the card in again */
  CARDSEAL_SLOT_STOPPED = 613, /* position is the mask of the stopped slots */
  CARDSEAL_OTHER_BOARD = 614,  /* not a board that this card is for: put it aside */
  CARDSEAL_WRONG_ORDER = 901,  /* this call can't follow the one before, or the loader is closed */
  CARDSEAL_NULL_POINTER = 902,
  CARDSEAL_MEMORY_SMALL = 903, /* too small, or not aligned */
  CARDSEAL_NO_SUCH_ITEM = 904  /* an index past the last one, or a number that is no reason */
};

typedef struct cardseal_outcome {
  uint16_t reason;   /* 0: done */
  uint16_t item;     /* which of several files, sign-offs or signatures, from 0 */
  uint32_t position; /* line of a text, byte of a package, sector of a card, mask of slots */
} cardseal_outcome;

typedef struct cardseal_text {
  uint16_t reason;
  const char* display;  /* at most CARDSEAL_DISPLAY_WIDTH of A-Z 0-9 space and '-' */
  const char* sentence; /* for the manual */
  const char* advice;   /* whom to ask or what to do */
} cardseal_text;

/* What you supply. Each function gets its table's `context` first and answers 1, or 0 when it
 * failed. All tables are copied by cardseal_open; what `context` points to must outlive the loader.
 */

typedef struct cardseal_card {
  void* context;
  uint32_t sector_count; /* of the whole card; none beyond is asked for. See cardseal_set_card */
  /* Fills `out`: `size` bytes, a multiple of 512 and at most 8192, from sector `lba` on. May give
   * other bytes the next time: nothing that was not verified is ever used. */
  int (*read)(void* context, uint32_t lba, uint8_t* out, size_t size);
  /* One sector; only ever called for sectors of the signed run log. May be cut anywhere. */
  int (*write)(void* context, uint32_t lba, const uint8_t* sector);
  int (*sync)(void* context); /* after 1, what was written stays */
} cardseal_card;

/* The station's memory: two slots that outlive power and card. One of them is written anew for
 * every cycle: its first byte, then all of it in ascending order, then the first byte once more; so
 * a flash memory needs a layer that erases. A write may be cut anywhere. */
typedef struct cardseal_state {
  void* context;
  int (*read)(void* context, unsigned slot, uint32_t offset, uint8_t* out, size_t size);
  int (*write)(void* context, unsigned slot, uint32_t offset, const uint8_t* bytes, size_t size);
  int (*sync)(void* context);
} cardseal_state;

/* The note of the last record: two cells that outlive power and card, read and written whole. */
typedef struct cardseal_notes {
  void* context;
  int (*read)(void* context, unsigned cell, uint8_t* out, size_t size);
  int (*write)(void* context, unsigned cell, const uint8_t* bytes, size_t size);
  int (*sync)(void* context);
} cardseal_notes;

/* SHA-256 (FIPS 180-4), one at a time; a start drops what was not finished. Ed25519 (RFC 8032
 * section 5.1.7, pure) over `head` followed by `body`, without a copy of both. */
typedef struct cardseal_crypto {
  void* context;
  void (*sha256_start)(void* context);
  void (*sha256_add)(void* context, const uint8_t* bytes, size_t size);
  void (*sha256_finish)(void* context, uint8_t* digest); /* 32 bytes */
  int (*ed25519_verify)(void* context, const uint8_t* key, const uint8_t* head, size_t head_size,
                        const uint8_t* body, size_t body_size,
                        const uint8_t* signature); /* 32 and 64 bytes */
} cardseal_crypto;

typedef struct cardseal_host {
  cardseal_card card;
  cardseal_state state;
  cardseal_notes notes;
  cardseal_crypto crypto;
} cardseal_host;

/* What a job says, as it was signed. Texts end with a zero. */

enum cardseal_supply { CARDSEAL_SUPPLY_STATION = 0, CARDSEAL_SUPPLY_BOARD = 1 };
enum cardseal_erase { CARDSEAL_ERASE_NONE = 0, CARDSEAL_ERASE_CHIP = 1 };
enum cardseal_verify {
  CARDSEAL_VERIFY_NONE = 0,
  CARDSEAL_VERIFY_NOMINAL = 1,
  CARDSEAL_VERIFY_LOW_HIGH = 2
};
enum cardseal_lock {
  CARDSEAL_LOCK_NONE = 0,
  CARDSEAL_LOCK_REVERSIBLE = 1,
  CARDSEAL_LOCK_PERMANENT = 2
};
enum cardseal_class {
  CARDSEAL_CLASS_ENGINEERING = 0,
  CARDSEAL_CLASS_PILOT = 1,
  CARDSEAL_CLASS_PRODUCTION = 2,
  CARDSEAL_CLASS_REWORK = 3,
  CARDSEAL_CLASS_SAMPLE = 4
};
/* Where a board's number comes from: cardseal_begin_cycle gives the next one; or the board has one,
 * to be read from its memory before it is erased, or from its label (cardseal_begin_boards). */
enum cardseal_numbers {
  CARDSEAL_NUMBERS_NEW = 0,
  CARDSEAL_NUMBERS_KEPT = 1,
  CARDSEAL_NUMBERS_STATED = 2
};

typedef struct cardseal_job {
  char title[25];          /* show this to choose by */
  char release[25];        /* version as people call it */
  char work_order[25];     /* of the allotment */
  char product[17];        /* id */
  char device[33];         /* microcontroller */
  char board[33];          /* and its revision: */
  uint32_t board_revision; /* 0 to 999999 */
  uint8_t work_class;      /* cardseal_class */
  uint8_t supply;          /* cardseal_supply */
  uint8_t erase;           /* cardseal_erase, before programming */
  uint8_t blank_check;     /* 1: before programming */
  uint8_t verify;          /* cardseal_verify, after programming */
  uint8_t lock;            /* cardseal_lock, after verifying */
  uint8_t stop_after;      /* failures in a row on one slot that stop it; 0: never */
  uint8_t has_serials;     /* 0: units have no ordinal and no placement */
  uint8_t numbers;         /* cardseal_numbers: where a board's comes from */
  uint8_t device_id_size;  /* bytes that are compared; 0: the device ID is not checked */
  uint8_t device_id[8];    /* lowest address first */
  uint8_t device_mask[8];  /* a bit set where the ID must agree */
  uint8_t manifest[32];    /* SHA-256 of the manifest: the identity of the package */
  uint8_t card_id[8];
  uint16_t segments;        /* see cardseal_get_segment */
  uint16_t kept_ranges;     /* see cardseal_get_kept */
  uint16_t placements;      /* see cardseal_get_placement */
  uint32_t permitted_slots; /* by the release; bit 0 is slot 1 */
  uint32_t enabled_slots;   /* of these, on this card */
  uint32_t supply_mv;       /* millivolts, 0 to 60000 */
  uint32_t verify_low_mv;   /* with CARDSEAL_VERIFY_LOW_HIGH; else 0 */
  uint32_t verify_high_mv;
  uint32_t image_size; /* bytes of all segments together */
  uint32_t units;      /* of the allotment */
  uint32_t units_left;
  uint64_t first_ordinal; /* of the allotment, with serials */
  uint64_t ordinals;      /* so many; from there on with CARDSEAL_NUMBERS_NEW */
  uint64_t next_ordinal;  /* of the unit that is taken next, with CARDSEAL_NUMBERS_NEW */
} cardseal_job;

typedef struct cardseal_range { /* of the device's memory */
  char region[17];              /* id; empty for a segment */
  uint32_t address;             /* byte address */
  uint32_t length;              /* bytes */
} cardseal_range;

/* Entered by the operator or set on the station; claimed, never decides. Null or empty: not
 * entered. At most 24 of A-Z 0-9 . : - each, the first a letter or digit. */
typedef struct cardseal_entered {
  const char* date;
  const char* shift;
  const char* fixture;
  const char* reel;
  const char* panel;
} cardseal_entered;

typedef struct cardseal_loader cardseal_loader;

/* Makes a loader in `memory` (CARDSEAL_MEMORY_SIZE bytes, aligned to CARDSEAL_MEMORY_ALIGN), which
 * is the loader's alone until cardseal_close. Reads and writes nothing. 902, 903. */
cardseal_outcome cardseal_open(void* memory, size_t size, const cardseal_host* host,
                               cardseal_loader** loader);

/* Another card is in: its number of sectors. Whatever was known of the one before is forgotten. */
cardseal_outcome cardseal_set_card(cardseal_loader* loader, uint32_t sector_count);

/* Judges the card and its first job for this station. `jobs`: how many jobs the card has for this
 * station; 0 when the card was refused before they were counted. Jobs behind the first one may be
 * good when the first one is not. What the card brings of roots, trust lists and stops stays in the
 * station's memory, also when the card is refused. */
cardseal_outcome cardseal_admit(cardseal_loader* loader, uint16_t* jobs);

/* Judges job `index`, from 0, unless it was the last one judged, and says what it is. A reason is
 * the one against this job; with 395 `job` is filled in all the same, else it is all zeros. Ends
 * the work on a selected job. Costs as much as an admission when another job was judged before. */
cardseal_outcome cardseal_get_job(cardseal_loader* loader, uint16_t index, cardseal_job* job);

/* Judges job `index` unless it was the last one judged, and opens the run log for it: the last
 * record of a cut cycle is written again here. `entered` may be null. 395: every unit was started;
 * the last record was written again, where there is a log, and there is nothing else to do. 106: a
 * word of `entered`. */
cardseal_outcome cardseal_select(cardseal_loader* loader, uint16_t index,
                                 const cardseal_entered* entered);

/* Parts of the job judged last and admitted; index from 0. 904 past the last. */
cardseal_outcome cardseal_get_segment(const cardseal_loader* loader, uint16_t index,
                                      cardseal_range* range);
cardseal_outcome cardseal_get_kept(const cardseal_loader* loader, uint16_t index,
                                   cardseal_range* range); /* stays as the maker left it */
cardseal_outcome cardseal_get_placement(const cardseal_loader* loader, uint16_t index,
                                        cardseal_range* range);

/* The image from its first block, for every cycle anew. */
cardseal_outcome cardseal_image_start(cardseal_loader* loader);

/* The next block, verified: 1 to CARDSEAL_BLOCK_SIZE bytes in `*bytes`, which are good until the
 * next call of anything here; `*size` is 0 at the end. Blocks follow one another through the
 * segments in their order. After a reason the image is over and no board of the cycle is good. */
cardseal_outcome cardseal_image_next(cardseal_loader* loader, const uint8_t** bytes, size_t* size);

/* A unit's serial as people read it, ending with a zero, and the bytes of one placement. The
 * ordinal must lie in the allotment (391). */
cardseal_outcome cardseal_unit_text(const cardseal_loader* loader, uint64_t ordinal,
                                    char text[CARDSEAL_UNIT_TEXT_SIZE]);
cardseal_outcome cardseal_unit_bytes(const cardseal_loader* loader, uint64_t ordinal,
                                     uint16_t placement, uint8_t bytes[CARDSEAL_UNIT_BYTES_SIZE],
                                     size_t* size);

/* Takes a unit for every slot of `slots` (bit 0 is slot 1) and, with serials, the ordinals from
 * `*first_ordinal` on, the lowest slot first. When it returns 0 this is in the station's memory and
 * a record of each board is on the card (of a station that writes no log, in its memory alone);
 * only then may a byte go to a board. What was taken is spent, whatever happens. `supply_mv`: as
 * measured. 394, 395, 603, 611, 613: nothing was taken. 612: taken, and no byte may go to a board.
 */
cardseal_outcome cardseal_begin_cycle(cardseal_loader* loader, uint32_t slots, uint16_t supply_mv,
                                      uint64_t* first_ordinal);

/* Of a board that has a number already: its ordinal, by the bytes of a placement as they stand in
 * its memory, or by the text on its label. 106: no serial of this scheme. 614: not a board that
 * this card is for; take it out. 904: no such placement. */
cardseal_outcome cardseal_ordinal_on_board(const cardseal_loader* loader, uint16_t placement,
                                           const uint8_t* bytes, size_t size, uint64_t* ordinal);
cardseal_outcome cardseal_ordinal_on_label(const cardseal_loader* loader, const char* text,
                                           uint64_t* ordinal);

/* As cardseal_begin_cycle, for boards that have numbers: `ordinals` has one for each slot of
 * `slots`, the lowest slot first. 614 also: two boards with one number; position is the mask of the
 * slots whose boards are to be put aside, of two with one number both; nothing was taken. 391: the
 * card gives new numbers. */
cardseal_outcome cardseal_begin_boards(cardseal_loader* loader, uint32_t slots, uint16_t supply_mv,
                                       const uint64_t* ordinals);

/* Another try of the board in `slot` (1 to 32), with the same ordinal, after a try that failed; at
 * most CARDSEAL_TRIES in all. 106: no such try. 611: no try or no room left. */
cardseal_outcome cardseal_begin_again(cardseal_loader* loader, uint8_t slot, uint16_t supply_mv);

/* What became of the try in `slot`: "GOOD", or a word that says what went wrong (form as in
 * cardseal_entered; not "BEGUN"). 106: no such try, or the word's form; nothing was written. */
cardseal_outcome cardseal_record(cardseal_loader* loader, uint8_t slot, const char* word,
                                 uint16_t supply_mv, uint32_t duration_ms);

/* Slots that failed too often in a row, bit 0 is slot 1; 0 when no job is selected. The next
 * cardseal_select starts to count anew: whoever puts the card in again has looked at the slot. */
uint32_t cardseal_stopped_slots(const cardseal_loader* loader);
uint32_t cardseal_units_left(const cardseal_loader* loader); /* of the job judged last */

/* Wipes the memory. Whatever is called afterwards answers 901. */
cardseal_outcome cardseal_close(cardseal_loader* loader);

/* Every reason with its texts, ascending by number; index from 0. */
size_t cardseal_text_count(void);
cardseal_outcome cardseal_text_at(size_t index, cardseal_text* text);
cardseal_outcome cardseal_text_of(uint16_t reason, cardseal_text* text);

#ifdef __cplusplus
}
#endif

#endif
