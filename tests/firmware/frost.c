/* A frost alarm for an orchard, reduced to what makes each kind of memory: code, constants, set
 * variables and cleared ones. The pointers stand in for a part's registers. */
#ifdef __AVR__
#include <avr/eeprom.h>
unsigned char EEMEM alarm_below[2] = {0x02, 0x01};
#endif

static const unsigned char trend[5] = {3, 1, 4, 1, 5};
volatile unsigned char threshold = 0x5A;
volatile unsigned char readings[7];

#if defined(__SDCC)
#define REGISTER(address) (*(volatile unsigned char *)(address))
#else
#define REGISTER(address) (*(volatile unsigned char *)(unsigned long)(address))
#endif
#define SENSOR REGISTER(0x40)
#define LAMP REGISTER(0x41)

static unsigned char weighed(void) {
  unsigned char sum = 0;
  unsigned char index;
  for (index = 0; index < 5; ++index) {
    readings[index] = SENSOR;
    sum = (unsigned char)(sum + readings[index] * trend[index]);
  }
  return sum;
}

int main(void) {
  for (;;) {
    LAMP = weighed() < threshold;
  }
}
