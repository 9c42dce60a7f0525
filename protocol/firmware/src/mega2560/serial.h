/* serial.h: UART0 by interrupts, 8N1. It never waits: what does not fit is refused (sending) or counted and
 * marked as damage (receiving). Only the main loop calls these. */
#ifndef HS_MEGA_SERIAL_H
#define HS_MEGA_SERIAL_H

#include <stdint.h>

#include "serial_ring.h"

/* 250000 is exact at 16 MHz; 115200 is off by 2.1 %, see PORTING.md. */
#ifndef BAUD
#define BAUD 250000UL
#endif

/* Sets the rate and starts receiving. */
void hs_serial_start(void);

/* Takes received bytes and marks, at most `most` of them and none behind a line's end; returns how many. */
uint8_t hs_serial_read(uint8_t *bytes, uint8_t most);

/* Bytes that hs_serial_write takes now. */
uint16_t hs_serial_room(void);

/* Queues count bytes; count must be at most hs_serial_room(). */
void hs_serial_write(const uint8_t *bytes, uint8_t count);

/* Times that received bytes were lost since start. */
uint32_t hs_serial_overruns(void);

#endif
