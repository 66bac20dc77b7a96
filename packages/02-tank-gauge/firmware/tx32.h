/* The registers of the TX32, an invented part, that boot part and application use. The timer is the
 * core's own (Armv6-M Architecture Reference Manual, Arm DDI 0419, The system timer, SysTick); all
 * other registers are made up. The clock is 8 MHz from the start. */
#ifndef TX32_H
#define TX32_H

#include <stdint.h>

#define REGISTER(address) (*(volatile uint32_t*)(address))

#define SYST_CSR REGISTER(0xE000E010u)
#define SYST_RVR REGISTER(0xE000E014u)
#define SYST_CVR REGISTER(0xE000E018u)
#define SYST_ENABLE 0x00001u
#define SYST_CORE_CLOCK 0x00004u
#define SYST_PASSED 0x10000u

#define PORT_OUT REGISTER(0x40000000u)
#define PORT_IN REGISTER(0x40000004u)

#define UART_DIVIDER REGISTER(0x40001000u)
#define UART_STATUS REGISTER(0x40001004u)
#define UART_DATA REGISTER(0x40001008u)
#define UART_ON 0x80000000u
#define UART_ROOM 0x1u

#define ADC_START REGISTER(0x40002000u) /* writing a channel starts a conversion */
#define ADC_STATUS REGISTER(0x40002004u)
#define ADC_RESULT REGISTER(0x40002008u) /* 12 bits */
#define ADC_DONE 0x1u

#define LOOP_MICROAMPS REGISTER(0x40003000u)

#define CLOCK_HZ 8000000u

/* Written by the maker into the last eight bytes of the flash: the temperature sensor's reading at
 * 25 C, and how much it rises over 10 C. */
#define SENSOR_AT_25_C (*(const volatile uint16_t*)0x0800FFF8u)
#define SENSOR_OVER_10_C (*(const volatile uint16_t*)0x0800FFFAu)

#endif
