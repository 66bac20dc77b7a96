/* A station in C99 behind the conformance set: judges a card by cardseal_loader.h alone and prints
 * what it would act on (README.md). Its cryptography is Botan's C interface.
 *
 *   station CARD STATE [ROOT]
 */
#include <stdio.h>
#include <string.h>

#include <botan/ffi.h>

#include "cardseal_loader.h"

#define STATE_STRIDE 20480L

static uint64_t memory[CARDSEAL_MEMORY_SIZE / sizeof(uint64_t)];

struct files {
  FILE* card;
  FILE* state;
  botan_hash_t hash;
};

static int read_at(FILE* file, long long at, uint8_t* out, size_t size) {
  return fseek(file, (long)at, SEEK_SET) == 0 && fread(out, 1, size, file) == size;
}

static int read_card(void* context, uint32_t lba, uint8_t* out, size_t size) {
  return read_at(((struct files*)context)->card, (long long)lba * 512, out, size);
}
/* Nothing is recorded here: a card that is judged is not written. */
static int write_card(void* context, uint32_t lba, const uint8_t* sector) {
  (void)context, (void)lba, (void)sector;
  return 0;
}
static int sync_card(void* context) {
  (void)context;
  return 0;
}

static int read_state(void* context, unsigned slot, uint32_t offset, uint8_t* out, size_t size) {
  return read_at(((struct files*)context)->state, slot * STATE_STRIDE + (long)offset, out, size);
}
static int write_state(void* context, unsigned slot, uint32_t offset, const uint8_t* bytes,
                       size_t size) {
  FILE* file = ((struct files*)context)->state;
  return fseek(file, slot * STATE_STRIDE + (long)offset, SEEK_SET) == 0 &&
         fwrite(bytes, 1, size, file) == size;
}
static int sync_state(void* context) {
  return fflush(((struct files*)context)->state) == 0;
}

static int read_note(void* context, unsigned cell, uint8_t* out, size_t size) {
  (void)context, (void)cell, (void)out, (void)size;
  return 0;
}
static int write_note(void* context, unsigned cell, const uint8_t* bytes, size_t size) {
  (void)context, (void)cell, (void)bytes, (void)size;
  return 0;
}

static void hash_start(void* context) {
  botan_hash_clear(((struct files*)context)->hash);
}
static void hash_add(void* context, const uint8_t* bytes, size_t size) {
  botan_hash_update(((struct files*)context)->hash, bytes, size);
}
static void hash_finish(void* context, uint8_t* digest) {
  botan_hash_final(((struct files*)context)->hash, digest);
}
static int verify(void* context, const uint8_t* key, const uint8_t* head, size_t head_size,
                  const uint8_t* body, size_t body_size, const uint8_t* signature) {
  botan_pubkey_t public_key = NULL;
  botan_pk_op_verify_t op = NULL;
  int good = 0;
  (void)context;
  if (botan_pubkey_load_ed25519(&public_key, key) == 0 &&
      botan_pk_op_verify_create(&op, public_key, "Pure", 0) == 0) {
    good = botan_pk_op_verify_update(op, head, head_size) == 0 &&
           botan_pk_op_verify_update(op, body, body_size) == 0 &&
           botan_pk_op_verify_finish(op, signature, 64) == 0;
  }
  botan_pk_op_verify_destroy(op);
  botan_pubkey_destroy(public_key);
  return good;
}

static void print_hex(const uint8_t* bytes, size_t size) {
  size_t i;
  for (i = 0; i < size; ++i) {
    printf("%02x", bytes[i]);
  }
}

static void print_settings(const cardseal_job* job) {
  static const char* const supplies[] = {"station", "board"};
  static const char* const erases[] = {"none", "chip"};
  static const char* const verifies[] = {"none", "nominal", "low-high"};
  static const char* const locks[] = {"none", "reversible", "permanent"};
  unsigned slot;
  printf("slots ");
  for (slot = 0; slot < 32 && (job->permitted_slots >> slot) != 0; ++slot) {
    putchar((job->enabled_slots >> slot & 1u) != 0 ? '1' : '0');
  }
  printf("\nsupply %s %lu\n", supplies[job->supply], (unsigned long)job->supply_mv);
  printf("erase %s\nblank %s\nverify %s", erases[job->erase], job->blank_check ? "yes" : "no",
         verifies[job->verify]);
  if (job->verify == CARDSEAL_VERIFY_LOW_HIGH) {
    printf(" %lu %lu", (unsigned long)job->verify_low_mv, (unsigned long)job->verify_high_mv);
  }
  printf("\nlock %s\nstop-after %u\ndevice-id ", locks[job->lock], (unsigned)job->stop_after);
  if (job->device_id_size > 0) {
    print_hex(job->device_id, job->device_id_size);
    putchar(' ');
    print_hex(job->device_mask, job->device_id_size);
  } else {
    putchar('-');
  }
  putchar('\n');
}

static int print_job(const cardseal_loader* loader, const cardseal_job* job) {
  static const char* const classes[] = {"engineering", "pilot", "production", "rework", "sample"};
  cardseal_range range;
  uint16_t i;
  printf("manifest ");
  print_hex(job->manifest, sizeof job->manifest);
  printf("\ntitle %s\nproduct %s\nrelease %s\ncard ", job->title, job->product, job->release);
  print_hex(job->card_id, sizeof job->card_id);
  printf("\nwork-order %s\nclass %s\n", job->work_order, classes[job->work_class]);
  print_settings(job);
  for (i = 0; cardseal_get_kept(loader, i, &range).reason == 0; ++i) {
    printf("kept %s %lu %lu\n", range.region, (unsigned long)range.address,
           (unsigned long)range.length);
  }
  for (i = 0; cardseal_get_segment(loader, i, &range).reason == 0; ++i) {
    printf("segment %lu %lu\n", (unsigned long)range.address, (unsigned long)range.length);
  }
  for (i = 0; cardseal_get_placement(loader, i, &range).reason == 0; ++i) {
    printf("placement %s %lu %lu\n", range.region, (unsigned long)range.address,
           (unsigned long)range.length);
  }
  printf("units %lu %lu\n", (unsigned long)job->units, (unsigned long)job->units_left);
  return 0;
}

static int print_unit(const cardseal_loader* loader, const cardseal_job* job, const char* word,
                      uint64_t ordinal) {
  char text[CARDSEAL_UNIT_TEXT_SIZE];
  uint8_t bytes[CARDSEAL_UNIT_BYTES_SIZE];
  size_t size = 0;
  uint16_t i;
  if (cardseal_unit_text(loader, ordinal, text).reason != 0) {
    return 1;
  }
  printf("%s %llu %s\n", word, (unsigned long long)ordinal, text);
  for (i = 0; i < job->placements; ++i) {
    if (cardseal_unit_bytes(loader, ordinal, i, bytes, &size).reason != 0) {
      return 1;
    }
    printf("%s-bytes ", word);
    print_hex(bytes, size);
    putchar('\n');
  }
  return 0;
}

/* The image through the loader, hashed with a hash of its own. */
static uint16_t hash_image(cardseal_loader* loader, unsigned long* total, uint8_t* digest) {
  botan_hash_t hash = NULL;
  const uint8_t* bytes = NULL;
  size_t size = 0;
  uint16_t reason = cardseal_image_start(loader).reason;
  *total = 0;
  botan_hash_init(&hash, "SHA-256", 0);
  do {
    reason = reason != 0 ? reason : cardseal_image_next(loader, &bytes, &size).reason;
    if (reason == 0) {
      botan_hash_update(hash, bytes, size);
      *total += (unsigned long)size;
    }
  } while (reason == 0 && size > 0);
  botan_hash_final(hash, digest);
  botan_hash_destroy(hash);
  return reason;
}

static int judge(cardseal_loader* loader) {
  cardseal_job job;
  uint16_t jobs = 0;
  unsigned long total = 0;
  uint8_t digest[32];
  uint16_t reason = cardseal_admit(loader, &jobs).reason;
  reason = reason != 0 ? reason : hash_image(loader, &total, digest);
  reason = reason != 0 ? reason : cardseal_get_job(loader, 0, &job).reason;
  if (reason != 0) {
    printf("refused %u\n", (unsigned)reason);
    return 1;
  }
  printf("admitted\n");
  print_job(loader, &job);
  printf("image %lu ", total);
  print_hex(digest, sizeof digest);
  putchar('\n');
  if (job.has_serials &&
      (print_unit(loader, &job, "first", job.next_ordinal) != 0 ||
       print_unit(loader, &job, "last", job.first_ordinal + job.ordinals - 1) != 0)) {
    return 2;
  }
  return 0;
}

static uint32_t sectors_of(FILE* file) {
  return fseek(file, 0, SEEK_END) == 0 ? (uint32_t)(ftell(file) / 512) : 0;
}

int main(int argc, char** argv) {
  struct files files = {NULL, NULL, NULL};
  cardseal_loader* loader = NULL;
  int answer = 2;
  if (argc < 3) {
    fprintf(stderr, "usage: station CARD STATE [ROOT]\n");
    return 2;
  }
  files.card = fopen(argv[1], "rb");
  files.state = fopen(argv[2], "r+b");
  if (files.card != NULL && files.state != NULL &&
      botan_hash_init(&files.hash, "SHA-256", 0) == 0) {
    const cardseal_host host = {
        {&files, sectors_of(files.card), read_card, write_card, sync_card},
        {&files, read_state, write_state, sync_state},
        {&files, read_note, write_note, sync_state},
        {&files, hash_start, hash_add, hash_finish, verify},
    };
    answer = cardseal_open(memory, sizeof memory, &host, &loader).reason == 0 ? judge(loader) : 2;
  }
  botan_hash_destroy(files.hash);
  if (files.card != NULL) {
    fclose(files.card);
  }
  if (files.state != NULL) {
    fclose(files.state);
  }
  return answer;
}
