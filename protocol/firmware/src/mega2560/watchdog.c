/* watchdog.c: see watchdog.h. Two ways of failing that it must see: a main loop that turns for ever, and interrupts
 * that stay off. The first ends in this interrupt; the second in the chip's own reset after another 2 s. */
#include "watchdog.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <stdbool.h>
#include <util/atomic.h>

#include "cause.h"
#include "pulse.h"

/* Turns of a wait that surely outlast 16 ms: a dead oscillator must not hold up the start. */
#define TURNS_MOST 60000u

static volatile bool armed;
static volatile bool stamped;
static volatile uint16_t stamp;

/* Both writes within four cycles; a new period begins anew. */
static void configure(uint8_t value) {
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    wdt_reset();
    WDTCSR = _BV(WDCE) | _BV(WDE);
    WDTCSR = value;
    wdt_reset();
  }
}

ISR(WDT_vect) {
  if (!armed) {
    stamp = TCNT1;
    stamped = true;
    return;
  }
  /* What runs ends at its own width, and nothing rises again. */
  hs_cause_note_watchdog();
  hs_pulse_cancel_all();
  configure(_BV(WDE) | _BV(WDP1));
}

void hs_watchdog_start(void) {
  armed = true;
  /* Interrupt first, reset one period later; an old flag is cleared by being written. */
  configure(_BV(WDIF) | _BV(WDIE) | _BV(WDE) | _BV(WDP2) | _BV(WDP1) | _BV(WDP0));
}

void hs_watchdog_feed(void) { wdt_reset(); }

uint16_t hs_watchdog_stamp(void) {
  uint16_t turns = TURNS_MOST;
  stamped = false;
  configure(_BV(WDIF) | _BV(WDIE));
  sei();
  while (!stamped && --turns > 0) {
  }
  cli();
  configure(0);
  return stamp;
}
