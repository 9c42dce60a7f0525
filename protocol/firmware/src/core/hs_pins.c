/* hs_pins.c: which pin has a slot, and its guard. */
#include "hs_board.h"

bool hs_set_has(const uint8_t set[HS_PIN_BYTES], uint8_t pin) {
  return (set[pin >> 3] & hs_bit((uint8_t)(pin & 7u))) != 0;
}

void hs_set_add(uint8_t set[HS_PIN_BYTES], uint8_t pin) {
  set[pin >> 3] = (uint8_t)(set[pin >> 3] | hs_bit((uint8_t)(pin & 7u)));
}

bool hs_set_is_empty(const uint8_t set[HS_PIN_BYTES]) {
  uint8_t i;
  for (i = 0; i < HS_PIN_BYTES; i++) {
    if (set[i] != 0) {
      return false;
    }
  }
  return true;
}

uint16_t hs_guard_low(const hs_core *core, uint8_t pin) {
  return core->low[pin] != 0 ? core->low[pin] : HS_GUARD_LOW;
}

uint16_t hs_guard_high(const hs_core *core, uint8_t pin) {
  return core->low[pin] != 0 ? core->high[pin] : HS_GUARD_HIGH;
}

uint8_t hs_pin_state(const hs_core *core, uint8_t pin) {
  uint8_t slot = core->slot_of[pin];
  return slot == HS_NONE ? HS_FREE : core->slots[slot].state;
}

/* A free slot in the bank with the fewest pins, so that banks share the servos' inrush. There is one. */
static uint8_t choose_slot(const hs_core *core) {
  uint8_t used[HS_BANKS] = {0};
  uint8_t best = HS_NONE;
  uint8_t slot;
  for (slot = 0; slot < HS_MOST; slot++) {
    if (core->slots[slot].state != HS_FREE) {
      used[slot % HS_BANKS]++;
    }
  }
  for (slot = 0; slot < HS_MOST; slot++) {
    if (core->slots[slot].state == HS_FREE && (best == HS_NONE || used[slot % HS_BANKS] < used[best % HS_BANKS])) {
      best = slot;
    }
  }
  return best;
}

/* Frames to be built before the first one that is far enough from every first pulse given or promised. At most 118:
 * each promised one bars five frames, so a byte is enough however often wakes are cancelled and asked for again. */
static uint8_t next_turn(const hs_core *core) {
  uint8_t wait = core->wake_gap;
  uint8_t slot = 0;
  while (slot < HS_MOST) {
    const hs_slot *other = &core->slots[slot];
    slot++;
    if (other->state == HS_WAKING && hs_gap(other->wait, wait) < HS_WAKE_FRAMES) {
      wait = (uint8_t)(other->wait + HS_WAKE_FRAMES);
      slot = 0;
    }
  }
  return wait;
}

uint8_t hs_pin_wake(hs_core *core, uint8_t pin, uint16_t ticks) {
  uint8_t wait = next_turn(core);
  uint8_t index = choose_slot(core);
  hs_slot *slot = &core->slots[index];
  slot->pin = pin;
  slot->state = HS_WAKING;
  slot->wait = wait;
  slot->now = ticks;
  hs_ramp_stop(slot);
  core->slot_of[pin] = index;
  core->busy++;
  core->hal->pin_wake(core->hal->user, index, pin);
  return wait;
}

/* Frees a slot that is in use. */
static void free_slot(hs_core *core, hs_slot *slot, uint8_t index) {
  slot->state = HS_FREE;
  core->slot_of[slot->pin] = HS_NONE;
  core->busy--;
  core->hal->pin_limp(core->hal->user, index, slot->pin);
}

void hs_pin_limp(hs_core *core, uint8_t pin) {
  uint8_t index = core->slot_of[pin];
  if (index != HS_NONE) {
    free_slot(core, &core->slots[index], index);
  }
}

void hs_pins_limp(hs_core *core) {
  hs_slot *slot = core->slots;
  uint8_t index;
  for (index = 0; index < HS_MOST; index++) {
    if (slot->state != HS_FREE) {
      free_slot(core, slot, index);
    }
    slot++;
  }
}
