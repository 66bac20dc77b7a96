/* Boot part of the tank gauge. It starts the application when that is whole and made for this boot
 * part, and the service contact is open. Otherwise it says so once a second on the serial line and
 * leaves the loop output at the fault current. */
#include "boot.h"
#include "tx32.h"

#define SERVICE_OPEN 0x10u        /* of PORT_IN */
#define FAULT_MICROAMPS 3600u     /* below 4 mA: the plant's controller sees that the gauge is out */
#define BAUD 9600u

/* Given by boot.ld. */
extern const uint32_t application_vectors[2]; /* stack pointer, entry */
extern const struct header application_header;
extern const char application_end[];
extern const char ram_start[];
extern const char ram_end[];

_Noreturn void boot_enter(uint32_t stack_pointer, uint32_t entry); /* boot_start.S */

void boot_start_uart(void)
{
    UART_DIVIDER = UART_ON | CLOCK_HZ / BAUD;
}

void boot_send(char c)
{
    while ((UART_STATUS & UART_ROOM) == 0) {
    }
    UART_DATA = (uint8_t)c;
}

void boot_send_text(const char *text)
{
    while (*text != 0) {
        boot_send(*text++);
    }
}

void boot_start_seconds(void)
{
    SYST_RVR = CLOCK_HZ - 1u;
    SYST_CVR = 0u;
    SYST_CSR = SYST_CORE_CLOCK | SYST_ENABLE;
}

/* Reading the register clears the flag. */
void boot_wait_for_second(void)
{
    while ((SYST_CSR & SYST_PASSED) == 0) {
    }
}

static int within(uint32_t value, const void *from, const void *end)
{
    return value >= (uint32_t)from && value <= (uint32_t)end;
}

/* Its last bit is set: the core knows no other instructions (Arm DDI 0419, The EPSR). */
static int application_good(void)
{
    const uint32_t entry = application_vectors[1];
    return application_header.magic == PROGRAM_MAGIC &&
           application_header.interface == BOOT_INTERFACE &&
           within(application_vectors[0], ram_start, ram_end) &&
           within(entry, application_vectors, application_end) && (entry & 1u) != 0;
}

_Noreturn void boot_main(void)
{
    LOOP_MICROAMPS = FAULT_MICROAMPS;
    const int good = application_good();
    if (good && (PORT_IN & SERVICE_OPEN) != 0) {
        boot_enter(application_vectors[0], application_vectors[1]);
    }
    boot_start_uart();
    boot_start_seconds();
    for (;;) {
        boot_send_text(good ? "SERVICE\r\n" : "NO APPLICATION\r\n");
        boot_wait_for_second();
    }
}
