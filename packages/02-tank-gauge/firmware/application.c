/* Tank gauge: a pressure sensor at the tank's floor on ADC channel 0, the part's own temperature
 * sensor on channel 1. Once a second it measures, sets the loop output to 4 to 20 mA for 0 to 6000 mm
 * of water and drives the overfill contact with hysteresis; every ten seconds it sends one line with its
 * serial number, the level and the temperature.
 *
 * The serial number is not part of this program. It is programmed into the 24 bytes at 0x0800FFE0,
 * which application.ld keeps free: the text at 0x0800FFE0, the number as 8 bytes at 0x0800FFF0. */
#include "boot.h"
#include "tx32.h"

#define SERIAL_TEXT ((const volatile uint8_t *)0x0800FFE0u)
#define SERIAL_LENGTH 10

#define PRESSURE_CHANNEL 0u
#define TEMPERATURE_CHANNEL 1u
#define READINGS 16u

#define COUNTS_EMPTY 410u /* a tenth of 4096: the sensor's 0.5 V of 5 V */
#define COUNTS_FULL 3686u /* nine tenths: 4.5 V, at 6000 mm */
#define COUNTS_SLACK 40u  /* further off than this, the sensor or its wire is broken */
#define FULL_MM 6000u

#define LOOP_EMPTY_UA 4000u
#define LOOP_FULL_UA 20000u
#define LOOP_FAULT_UA 3600u

#define OVERFILL_MM 5700u
#define OVERFILL_ENDS_MM 5600u
#define OVERFILL_CONTACT 0x1u /* of PORT_OUT; open is the alarm, so that a broken wire is one */

const struct header gauge_header __attribute__((section(".header"))) = {
    PROGRAM_MAGIC, BOOT_INTERFACE, "TANK GAUGE 3.0.2"};

/* Moves to RAM at the start: application.ld places it, application_start.S copies it. */
static uint32_t seconds_to_line = 1u;
static uint32_t overfilled;

static uint32_t measure(uint32_t channel)
{
    uint32_t sum = 0;
    for (uint32_t i = 0; i < READINGS; i++) {
        ADC_START = channel;
        while ((ADC_STATUS & ADC_DONE) == 0) {
        }
        sum += ADC_RESULT & 0xFFFu;
    }
    return sum / READINGS;
}

static int sensor_good(uint32_t counts)
{
    return counts + COUNTS_SLACK >= COUNTS_EMPTY && counts <= COUNTS_FULL + COUNTS_SLACK;
}

static uint32_t level_mm(uint32_t counts)
{
    if (counts <= COUNTS_EMPTY) {
        return 0;
    }
    if (counts >= COUNTS_FULL) {
        return FULL_MM;
    }
    return (counts - COUNTS_EMPTY) * FULL_MM / (COUNTS_FULL - COUNTS_EMPTY);
}

/* Tenths of a degree. */
static int32_t temperature(uint32_t counts)
{
    const int32_t over_10_c = (int32_t)SENSOR_OVER_10_C;
    if (over_10_c == 0) {
        return 0;
    }
    return 250 + ((int32_t)counts - (int32_t)SENSOR_AT_25_C) * 100 / over_10_c;
}

static void drive(int good, uint32_t mm)
{
    if (mm >= OVERFILL_MM) {
        overfilled = 1u;
    } else if (mm <= OVERFILL_ENDS_MM) {
        overfilled = 0u;
    }
    LOOP_MICROAMPS =
        good ? LOOP_EMPTY_UA + mm * (LOOP_FULL_UA - LOOP_EMPTY_UA) / FULL_MM : LOOP_FAULT_UA;
    PORT_OUT = good && overfilled == 0u ? OVERFILL_CONTACT : 0u;
}

static void send_number(int32_t value)
{
    char digits[10];
    uint32_t count = 0;
    uint32_t left = value < 0 ? (uint32_t)-value : (uint32_t)value;
    if (value < 0) {
        boot_send('-');
    }
    do {
        digits[count++] = (char)('0' + left % 10u);
        left /= 10u;
    } while (left != 0);
    while (count != 0) {
        boot_send(digits[--count]);
    }
}

static void send_serial(void)
{
    for (uint32_t i = 0; i < SERIAL_LENGTH; i++) {
        const uint8_t c = SERIAL_TEXT[i];
        boot_send(c == 0xFFu ? '-' : (char)c); /* erased: never serialised */
    }
}

static void send_line(int good, uint32_t mm)
{
    send_serial();
    if (good) {
        boot_send(' ');
        send_number((int32_t)mm);
        boot_send_text(" mm ");
        send_number(temperature(measure(TEMPERATURE_CHANNEL)));
        boot_send_text(" tenths C\r\n");
    } else {
        boot_send_text(" sensor fault\r\n");
    }
}

_Noreturn void application_main(void)
{
    boot_start_uart();
    boot_start_seconds();
    boot_send_text(gauge_header.version);
    boot_send_text("\r\n");
    for (;;) {
        const uint32_t counts = measure(PRESSURE_CHANNEL);
        const int good = sensor_good(counts);
        const uint32_t mm = level_mm(counts);
        drive(good, mm);
        if (--seconds_to_line == 0u) {
            seconds_to_line = 10u;
            send_line(good, mm);
        }
        boot_wait_for_second();
    }
}
