/* hs_core.c: making a context; the entry points a port calls. */
#include "hs_state.h"

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
  core->hal = hal;
  core->identity = identity;
  return core;
}

void hs_core_receive(hs_core *core, uint8_t byte) {
  (void)core;
  (void)byte;
}

void hs_core_receive_error(hs_core *core) { (void)core; }

void hs_core_poll(hs_core *core) { (void)core; }

void hs_core_frame(hs_core *core, hs_slot_pulse out[HS_MOST]) {
  uint8_t slot;
  (void)core;
  for (slot = 0; slot < HS_MOST; slot++) {
    out[slot].pin = 0;
    out[slot].ticks = 0;
  }
}
