/* serial.h: UART0 by interrupts, 8N1. It never waits: what does not fit is refused (sending) or counted and
 * marked as damage (receiving). Only the main loop calls these. */
#ifndef HS_MEGA_SERIAL_H
#define HS_MEGA_SERIAL_H

#include <stdbool.h>
#include <stdint.h>

/* 250000 is exact at 16 MHz; 115200 is off by 2.1 %, see PORTING.md. */
#ifndef BAUD
#define BAUD 250000UL
#endif

/* Two bytes of the receive ring are marks: something was damaged or lost here; the same, and then a line ended. A
 * byte below 2 on the wire is handed on as 2: to a line, one unprintable byte is as bad as another. */
#define HS_SERIAL_DAMAGE 0u
#define HS_SERIAL_DAMAGE_END 1u

void hs_serial_start(void);

/* Takes the next received byte, or a mark; false when there is none. */
bool hs_serial_read(uint8_t *byte);

/* Bytes that hs_serial_write takes now. */
uint16_t hs_serial_room(void);

/* Queues count bytes; count must be at most hs_serial_room(). */
void hs_serial_write(const uint8_t *bytes, uint8_t count);

/* Times that received bytes were lost since start. */
uint32_t hs_serial_overruns(void);

#endif
