/* cause.h: why the chip started. */
#ifndef HS_MEGA_CAUSE_H
#define HS_MEGA_CAUSE_H

#include <stdbool.h>
#include <stdint.h>

/* One of HS_CAUSE_*: from the chip's flags, or, when a boot loader cleared those, from the note that the firmware
 * keeps in RAM that no start-up code touches; unknown otherwise. Call it once. */
uint8_t hs_cause_take(void);

/* Notes whether the supply is sound, for the case that this run ends here and no flag tells why. */
void hs_cause_note_supply(bool sound);

/* Notes that the watchdog is about to end this run. */
void hs_cause_note_watchdog(void);

#endif
