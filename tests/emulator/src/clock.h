/* The chip's time in a page that is shared with a host which lives by it. */
#ifndef EM_CLOCK_H
#define EM_CLOCK_H

#include <stdatomic.h>
#include <stdint.h>

enum { EM_CLOCK_THREADS = 32 };

typedef struct em_clock {
  _Atomic uint64_t now_us; /* simulated microseconds since power-on; the emulator alone writes it */
  /* How far the chip may go before that thread of the host has had its turn; the host alone writes these. */
  _Atomic uint64_t until_us[EM_CLOCK_THREADS];
} em_clock;

/* Makes the file and maps it; exits with a message when it cannot. */
void em_clock_make(const char *path);

/* The chip has come so far. */
void em_clock_reached(uint64_t passed_us);

/* How far it may go now, of what is due, before its host had its turn. A host that keeps silent for two seconds of
 * the clock on the wall, as one that was stopped does, is waited for no longer: then the chip goes on as fast as that clock. */
uint64_t em_clock_may_reach(uint64_t passed_us, uint64_t due_us, uint64_t wall_us);

/* For so long the chip waits for nobody, as if its host were held up. */
void em_clock_ahead(uint64_t us);

#endif
