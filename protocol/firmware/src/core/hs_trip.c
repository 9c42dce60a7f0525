/* hs_trip.c: reflexes on analog inputs, and which inputs are in use. */
#include "hs_board.h"

static uint8_t used_inputs(const hs_core *core) {
  uint8_t mask = 0;
  uint8_t input;
  uint8_t i;
  for (i = 0; i < core->watch_count; i++) {
    mask = (uint8_t)(mask | hs_bit(core->watch_inputs[i]));
  }
  for (input = 0; input < HS_INPUTS; input++) {
    if (core->trips[input].mv != 0) {
      mask = (uint8_t)(mask | hs_bit(input));
    }
  }
  return mask;
}

void hs_inputs_changed(hs_core *core) { core->hal->inputs_used(core->hal->user, used_inputs(core)); }

bool hs_input_is_used(const hs_core *core, uint8_t input) { return (used_inputs(core) & hs_bit(input)) != 0; }

void hs_trip_rearm(hs_core *core) {
  uint8_t input;
  for (input = 0; input < HS_INPUTS; input++) {
    core->trips[input].is_above = false;
    core->trips[input].has_acted = false;
  }
}

static void act(hs_core *core, const hs_trip *trip) {
  uint8_t pin;
  if (!trip->is_limp) {
    hs_freeze(core, HS_BY_TRIP);
    return;
  }
  if (hs_set_is_empty(trip->pins)) {
    hs_pins_limp(core);
  } else {
    for (pin = 2; pin < HS_PINS; pin++) {
      if (hs_set_has(trip->pins, pin)) {
        hs_pin_limp(core, pin);
      }
    }
  }
  core->tell_limp = true;
  core->limp_by = HS_BY_TRIP;
}

static void look(hs_core *core, uint8_t input, uint32_t now) {
  hs_trip *trip = &core->trips[input];
  if (core->hal->input_mv(core->hal->user, input) < trip->mv) {
    trip->is_above = false;
    trip->has_acted = false;
    return;
  }
  if (!trip->is_above) {
    trip->is_above = true;
    trip->since = now;
  }
  if (!trip->has_acted && hs_since(now, trip->since) >= trip->hold_ms) {
    trip->has_acted = true;
    act(core, trip);
  }
}

void hs_trip_poll(hs_core *core, uint32_t now) {
  uint8_t input;
  for (input = 0; input < HS_INPUTS; input++) {
    if (core->trips[input].mv != 0) {
      look(core, input, now);
    }
  }
}
