/* hs_stop.c: what stops the robot: freeze, silence, noise. */
#include "hs_board.h"

void hs_freeze(hs_core *core, uint8_t by) {
  uint8_t index;
  core->freezes++;
  if (core->freezes == 0) {
    core->freezes = 1;
  }
  core->is_frozen = true;
  core->frozen_by = by;
  core->tell_frozen = true;
  for (index = 0; index < HS_MOST; index++) {
    hs_slot *slot = &core->slots[index];
    if (slot->state == HS_WAKING || (slot->state == HS_AWAKE && slot->peck > 0)) {
      hs_pin_limp(core, slot->pin);
    } else if (slot->state == HS_AWAKE) {
      hs_ramp_stop(slot);
    }
  }
}

bool hs_noise_add(hs_core *core) {
  uint32_t now = hs_now(core);
  core->bad_checks++;
  if (core->busy == 0) {
    return false;
  }
  core->noisy_at = now;
  core->was_noisy = true;
  core->noise[core->noise_at] = now;
  core->noise_at = (uint8_t)((core->noise_at + 1u) % HS_NOISE_COUNT);
  if (core->noise_count < HS_NOISE_COUNT) {
    core->noise_count++;
  }
  /* The next place to write holds the oldest of eight. */
  if (core->noise_count < HS_NOISE_COUNT || hs_since(now, core->noise[core->noise_at]) >= HS_NOISE_MS) {
    return false;
  }
  core->noise_count = 0;
  return true;
}

bool hs_noise_is_fresh(const hs_core *core) {
  return core->was_noisy && hs_since(hs_now(core), core->noisy_at) < HS_NOISE_MS;
}

void hs_silence_feed(hs_core *core) {
  core->fed_at = hs_now(core);
  core->silence_froze = false;
}

void hs_silence_poll(hs_core *core, uint32_t now) {
  uint32_t silent_ms;
  if (core->was_noisy && !hs_noise_is_fresh(core)) {
    /* Forgotten here, so that it does not seem fresh again when the clock has gone round. */
    core->was_noisy = false;
  }
  if (core->busy == 0) {
    return;
  }
  silent_ms = hs_since(now, core->fed_at);
  if (!core->silence_froze && silent_ms >= core->silence_freeze_ms) {
    core->silence_froze = true;
    hs_freeze(core, HS_BY_SILENCE);
  }
  if (silent_ms >= core->silence_limp_ms && core->busy > 0) {
    hs_pins_limp(core);
    core->tell_limp = true;
    core->limp_by = HS_BY_SILENCE;
  }
}
