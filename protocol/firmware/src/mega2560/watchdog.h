/* watchdog.h: restarts the chip when the main loop is lost; and, before it is armed, a clock that is not the
 * crystal's, for drawing the id. */
#ifndef HS_MEGA_WATCHDOG_H
#define HS_MEGA_WATCHDOG_H

#include <stdint.h>

/* Arms it: after 2 s without hs_watchdog_feed every pulse is cancelled, a note is left for the next start (see
 * cause.h), and 64 ms later the chip starts anew. */
void hs_watchdog_start(void);

/* From the main loop and nowhere else. */
void hs_watchdog_feed(void);

/* Waits one period of the watchdog's own oscillator, about 16 ms, and returns what TIMER1 then showed. Only before
 * it is armed; switches interrupts on while it waits and off again. */
uint16_t hs_watchdog_stamp(void);

#endif
