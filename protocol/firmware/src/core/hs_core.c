/* hs_core.c: making a context, and its heartbeat. */
#include "hs_core.h"

#include <string.h>

#include "hs_board.h"
#include "hs_request.h"

size_t hs_core_size(void) { return sizeof(hs_core); }

size_t hs_core_align(void) {
  struct probe {
    char before;
    hs_core core;
  };
  return offsetof(struct probe, core);
}

hs_core *hs_core_init(void *memory, const hs_hal *hal, const hs_identity *identity) {
  hs_core *core = memory;
  uint8_t pin;
  memset(core, 0, sizeof *core);
  core->hal = hal;
  core->identity = identity;
  hs_line_clear(&core->line);
  for (pin = 0; pin < HS_PINS; pin++) {
    core->slew[pin] = HS_SLEW_US_PER_S;
    core->slot_of[pin] = HS_NONE;
  }
  core->silence_freeze_ms = 500;
  core->silence_limp_ms = 10000;
  core->where_next = HS_NONE;
  core->where_count = HS_NONE;
  core->tell_ready = true;
  return core;
}

void hs_core_poll(hs_core *core) {
  uint32_t now = hs_now(core);
  if (now != core->polled_at) {
    core->polled_at = now;
    hs_silence_poll(core, now);
    hs_trip_poll(core, now);
    hs_watch_poll(core, now);
  }
  hs_event_poll(core);
}
