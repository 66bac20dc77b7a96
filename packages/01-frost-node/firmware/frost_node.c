/* Frost-alarm node for orchards: ATmega328P at 8 MHz from its internal oscillator, 3.3 V.
 *
 * A thermistor from ADC0 to ground and 10 kOhm from the supply to ADC0 divide the supply. Once a second the node measures,
 * decides with hysteresis and debouncing whether there is frost, drives the alarm output, and every
 * ten seconds sends one line with its serial number, the reading and the alarm at 9600 baud.
 *
 * The serial number is not part of this program. It is programmed into the last 16 bytes of the
 * flash, which build.sh keeps free: 8 characters at 0x7FF0, the number as 4 bytes at 0x7FF8.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/power.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <stdint.h>

#define SERIAL_TEXT 0x7FF0
#define SERIAL_LENGTH 8

#define ALARM_PIN PB1
#define LED_PIN PB5

/* Thermistor: 10 kOhm at 25 C, B = 3950 K; colder is a higher reading. By the B equation
 * 1/T = 1/T0 + ln(R/R0)/B, and counts = 1023 R / (R + 10 kOhm): */
#define COUNTS_AT_1_C 779   /* R = 31.9 kOhm */
#define COUNTS_AT_2_5_C 764 /* R = 29.5 kOhm */
#define COUNTS_OPEN 1015    /* wire broken */
#define COUNTS_SHORT 8      /* wire shorted */

#define SECONDS_BEFORE_ALARM 5
#define SECONDS_BEFORE_QUIET 30

enum state { QUIET, ALARM, SENSOR_FAULT };

static volatile uint8_t seconds_passed;

ISR(TIMER1_COMPA_vect)
{
    seconds_passed++;
}

static void start_clock(void)
{
    OCR1A = 31249; /* 8 MHz / 256 / 31250 = 1 Hz */
    TCCR1B = _BV(WGM12) | _BV(CS12);
    TIMSK1 = _BV(OCIE1A);
}

/* Interrupts stay off between looking and sleeping, so that no tick is slept through. */
static void wait_for_second(void)
{
    cli();
    while (seconds_passed == 0) {
        sleep_enable();
        sei();
        sleep_cpu();
        sleep_disable();
        cli();
    }
    seconds_passed = 0;
    sei();
}

static void start_uart(void)
{
    UBRR0 = 51; /* 9600 baud at 8 MHz, 0.2 % off */
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(TXEN0);
}

static void send(char c)
{
    while (!(UCSR0A & _BV(UDRE0))) {
    }
    UDR0 = (uint8_t)c;
}

static void send_text(const char *text) /* in flash */
{
    char c;
    while ((c = (char)pgm_read_byte(text++)) != 0) {
        send(c);
    }
}

static void send_number(uint16_t value)
{
    char digits[5];
    uint8_t count = 0;
    do {
        digits[count++] = (char)('0' + value % 10);
        value /= 10;
    } while (value != 0);
    while (count != 0) {
        send(digits[--count]);
    }
}

static void send_serial(void)
{
    for (uint8_t i = 0; i < SERIAL_LENGTH; i++) {
        uint8_t c = pgm_read_byte(SERIAL_TEXT + i);
        send(c == 0xFF ? '-' : (char)c); /* erased: never serialised */
    }
}

static void start_adc(void)
{
    ADMUX = _BV(REFS0);                           /* against the supply, channel 0 */
    ADCSRA = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS1); /* 125 kHz */
    DIDR0 = _BV(ADC0D);
}

/* The mean of 16 readings. */
static uint16_t measure(void)
{
    uint16_t sum = 0;
    for (uint8_t i = 0; i < 16; i++) {
        ADCSRA |= _BV(ADSC);
        while (ADCSRA & _BV(ADSC)) {
        }
        sum += ADC;
    }
    return sum / 16;
}

/* One step a second. A change must be seen for some seconds in a row before it counts; between the
 * two thresholds nothing changes. A broken sensor counts at once. */
static enum state decide(enum state now, uint16_t counts)
{
    static uint8_t seen;
    if (counts >= COUNTS_OPEN || counts <= COUNTS_SHORT) {
        seen = 0;
        return SENSOR_FAULT;
    }
    if (now == SENSOR_FAULT) {
        now = QUIET;
    }
    if (now == QUIET && counts >= COUNTS_AT_1_C) {
        seen++;
    } else if (now == ALARM && counts <= COUNTS_AT_2_5_C) {
        seen++;
    } else {
        seen = 0;
    }
    if (seen == (now == QUIET ? SECONDS_BEFORE_ALARM : SECONDS_BEFORE_QUIET)) {
        seen = 0;
        return now == QUIET ? ALARM : QUIET;
    }
    return now;
}

/* A node that can't measure is as good as none: the alarm output stands for both. */
static void show(enum state state)
{
    if (state == QUIET) {
        PORTB &= (uint8_t)~_BV(ALARM_PIN);
    } else {
        PORTB |= _BV(ALARM_PIN);
    }
    PINB = _BV(LED_PIN); /* toggles */
}

static void report(enum state state, uint16_t counts)
{
    send_serial();
    send(' ');
    send_number(counts);
    send_text(state == QUIET ? PSTR(" quiet\r\n")
              : state == ALARM ? PSTR(" FROST\r\n")
                               : PSTR(" sensor fault\r\n"));
}

int main(void)
{
    enum state state = QUIET;
    uint8_t until_report = 0;

    DDRB = _BV(ALARM_PIN) | _BV(LED_PIN);
    MCUSR = 0;                       /* else a watchdog reset would stand for ever */
    clock_prescale_set(clock_div_1); /* as delivered, the part divides its 8 MHz by 8 */
    start_clock();
    start_uart();
    start_adc();
    wdt_enable(WDTO_4S);
    set_sleep_mode(SLEEP_MODE_IDLE);
    sei();

    for (;;) {
        wait_for_second();
        wdt_reset();

        uint16_t counts = measure();
        state = decide(state, counts);
        show(state);
        if (until_report == 0) {
            report(state, counts);
            until_report = 10;
        }
        until_report--;
    }
}
