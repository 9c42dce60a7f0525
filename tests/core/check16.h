/* check16.h: the protocol's check, written a second time, bit by bit, so that a mistake in the core's own table
 * shows. CRC-16/IBM-3740: polynomial 1021, start FFFF. */
#ifndef CHECK16_H
#define CHECK16_H

#include <stddef.h>
#include <stdint.h>

/* The check of count bytes. */
uint16_t check16(const uint8_t *bytes, size_t count);

/* Writes the check as four upper-case hex digits and a terminating zero. */
void check16_text(uint16_t check, char text[5]);

#endif
