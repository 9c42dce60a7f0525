/* pulse.h: the pulse engine: TIMER1, the two tables of edges, and the clock of frames.
 *
 * It places what it is given and decides nothing: widths come from the core, frame by frame. Only the main loop
 * calls these; the edges themselves are placed by the compare interrupt. */
#ifndef HS_MEGA_PULSE_H
#define HS_MEGA_PULSE_H

#include <stdbool.h>
#include <stdint.h>

#include "../core/hs_core.h"

/* Starts TIMER1 and the first, empty frame. Interrupts are still off. */
void hs_pulse_start(void);

/* True from the moment at which the next frame's table ought to be begun until it is complete. */
bool hs_pulse_due(void);

/* The same, but true only when so little of the frame is left that the table must be completed before anything
 * else. */
bool hs_pulse_is_pressed(void);

/* The next frame's table, in pieces short enough to come between received lines: begin it, then build bank after
 * bank; true with the last one. A width outside 1000 to 5000 ticks, or a pin that is none, gives no pulse. Between
 * two pieces the caller may still set a slot's ticks to 0. */
void hs_pulse_begin(void);
bool hs_pulse_build_bank(const hs_slot_pulse pulses[HS_MOST]);

/* Cancels each rise of the slot that has not begun, in both tables as far as they are built; a pulse that runs ends at its own width. */
void hs_pulse_cancel(uint8_t slot);

/* The same for every slot; also from the watchdog's interrupt, when the main loop is lost. */
void hs_pulse_cancel_all(void);

/* TIMER1: ticks of 0.5 us, wrapping at 16 bits; and whether so many have passed since it showed `then`. */
uint16_t hs_pulse_ticks(void);
bool hs_pulse_has_passed(uint16_t then, uint16_t ticks);

/* Milliseconds since hs_pulse_start, from the frame clock; never steps back, wraps at 32 bits. */
uint32_t hs_pulse_now_ms(void);

/* Edges that were not placed exactly, and frames repeated because the next table was not ready. */
uint32_t hs_pulse_late(void);

#endif
