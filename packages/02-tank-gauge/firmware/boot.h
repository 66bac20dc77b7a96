/* What boot part and application know of each other. They are one program in two linked files: the
 * application is linked against the boot part's addresses and calls its functions, so neither may
 * be replaced alone. */
#ifndef BOOT_H
#define BOOT_H

#include <stdint.h>

#define PROGRAM_MAGIC 0x47415545u /* "EUAG" in memory, low byte first */
#define BOOT_INTERFACE 3u         /* raised with every change of the functions below */

/* Right behind the application's vector table. */
struct header {
  uint32_t magic;
  uint32_t interface;
  char version[24];
};

/* Without variables of their own, so that the application's memory is all its own. */
void boot_start_uart(void);
void boot_send(char c);
void boot_send_text(const char* text);
void boot_start_seconds(void);
void boot_wait_for_second(void);

#endif
