/* analog.h: the converter, by interrupt: inputs a0 to a7 and the supply, round and round, each 1.7 ms.
 *
 * The reference is the logic supply, and that is measured against the chip's own band-gap of about 1.1 V; one
 * chip's band-gap may be off by 9 % (data sheet 2549), so every millivolt here may be too: good for change, not
 * for absolute. All eight inputs are converted whether used or not, which disturbs no pin; so a value is always
 * fresh and nobody waits for one. */
#ifndef HS_MEGA_ANALOG_H
#define HS_MEGA_ANALOG_H

#include <stdint.h>

/* Measures the supply once by waiting (about 2 ms), then goes on by interrupts once they are enabled. */
void hs_analog_start(void);

/* Millivolts at input 0 to 7, at most 1.8 ms old. */
uint16_t hs_analog_mv(uint8_t input);

/* Millivolts of the supply, the mean of four readings. */
uint16_t hs_analog_vcc_mv(void);

/* A conversion of a channel by waiting, for drawing the id; only before hs_analog_start. */
uint16_t hs_analog_wait(uint8_t channel);

#endif
