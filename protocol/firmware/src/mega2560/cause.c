/* cause.c: start.S has read the reset flags and stopped the watchdog; here they are judged. */
#include "cause.h"

#include <avr/io.h>

#include "../core/hs_core.h"
#include "start.h"

/* The note: RAM keeps it over a reset, and after a loss of power it is noise that fits NOTE_MARK once in 2^24. */
static struct {
  uint8_t mark[3];
  uint8_t cause;
} note __attribute__((section(".noinit")));
static const uint8_t note_mark[3] = {0x68, 0xA7, 0x5C};

static bool note_holds(void) {
  return note.mark[0] == note_mark[0] && note.mark[1] == note_mark[1] && note.mark[2] == note_mark[2];
}

static void note_write(uint8_t cause) {
  note.cause = cause;
  for (uint8_t index = 0; index < 3; index++) note.mark[index] = note_mark[index];
}

uint8_t hs_cause_take(void) {
  uint8_t cause = HS_CAUSE_UNKNOWN;
  if (hs_start_flags & _BV(PORF)) {
    /* Power coming up may set the brown-out flag beside its own. */
    cause = HS_CAUSE_POWER;
  } else if (hs_start_flags & _BV(BORF)) {
    cause = HS_CAUSE_BROWNOUT;
  } else if (hs_start_flags & _BV(WDRF)) {
    cause = HS_CAUSE_WATCHDOG;
  } else if (hs_start_flags & _BV(EXTRF)) {
    cause = HS_CAUSE_EXTERNAL;
  } else if (note_holds() && (note.cause == HS_CAUSE_WATCHDOG || note.cause == HS_CAUSE_BROWNOUT)) {
    cause = note.cause;
  }
  note_write(HS_CAUSE_UNKNOWN);
  return cause;
}

void hs_cause_note_supply(bool sound) {
  /* The watchdog's note is the last word: the reset is on its way. */
  if (note.cause != HS_CAUSE_WATCHDOG) note_write(sound ? HS_CAUSE_UNKNOWN : HS_CAUSE_BROWNOUT);
}

void hs_cause_note_watchdog(void) { note_write(HS_CAUSE_WATCHDOG); }
