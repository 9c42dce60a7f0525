/* hs_verb_move.c: the verbs that give pins pulses and change them. Each is checked whole before anything moves. */
#include "hs_board.h"
#include "hs_request.h"

/* Notes `outside` or `guard`. */
static void check_pulse(hs_core *core, hs_request *request, uint8_t pin, uint16_t ticks) {
  if (ticks < HS_TICKS_LEAST || ticks > HS_TICKS_MOST) {
    hs_request_note(request, HS_WHY_OUTSIDE, 0);
  } else if (ticks < hs_guard_low(core, pin) || ticks > hs_guard_high(core, pin)) {
    hs_request_note(request, HS_WHY_GUARD, pin);
  }
}

/* Notes `frozen`. */
static void check_frozen(hs_core *core, hs_request *request) {
  if (core->is_frozen) {
    hs_request_note(request, HS_WHY_FROZEN, 0);
  }
}

/* The slot of a pin that is to go to this pulse; notes why it cannot. The pin is a pin. */
static hs_slot *check_move(hs_core *core, hs_request *request, uint8_t pin, uint16_t ticks) {
  uint8_t index = core->slot_of[pin];
  hs_slot *slot = index == HS_NONE ? NULL : &core->slots[index];
  if (slot == NULL) {
    hs_request_note(request, HS_WHY_LIMP, pin);
  } else if (slot->state == HS_WAKING) {
    hs_request_note(request, HS_WHY_WAKING, pin);
  } else if (core->low[pin] != 0 && ticks >= core->low[pin] && ticks <= core->high[pin]) {
    /* Nearly every pulse that ever comes: inside a guard, which itself lies inside the bounds of any pulse. */
    return slot;
  }
  check_pulse(core, request, pin, ticks);
  return slot;
}

static void wake(hs_core *core, hs_request *request) {
  uint8_t pin;
  uint8_t state;
  uint16_t ticks;
  hs_request_expect(request, 2, 2);
  pin = hs_request_pin(request, hs_request_next(request), NULL);
  ticks = hs_request_ticks(request);
  if (pin >= HS_PIN_OF_INPUT(0) && pin < HS_PIN_OF_INPUT(HS_INPUTS) &&
      hs_input_is_used(core, (uint8_t)(pin - HS_PIN_OF_INPUT(0)))) {
    hs_request_note(request, HS_WHY_INPUT, 0);
  }
  if (hs_noise_is_fresh(core)) {
    hs_request_note(request, HS_WHY_NOISY, 0);
  }
  check_frozen(core, request);
  state = hs_pin_state(core, pin);
  if (state == HS_FREE && core->busy >= HS_MOST) {
    hs_request_note(request, HS_WHY_FULL, 0);
  }
  if (state != HS_FREE) {
    hs_request_note(request, state == HS_WAKING ? HS_WHY_WAKING : HS_WHY_AWAKE, pin);
  }
  check_pulse(core, request, pin, ticks);
  if (request->why != HS_WHY_NOT) {
    return;
  }
  hs_out_field(&core->out, HS_TEXT(" in_ms="), hs_mul((uint16_t)(hs_pin_wake(core, pin, ticks) + 1u), HS_FRAME_MS));
  hs_trip_rearm(core);
}

/* A move that was read: its slots, null for one that stays as it is, and where each goes. */
typedef struct hs_move {
  hs_slot *slots[HS_MOST];
  uint16_t ticks[HS_MOST];
  uint8_t count;
} hs_move;

/* Starts every slot of a move, so that all arrive together, and answers how long it takes. */
static void start(hs_core *core, const hs_move *move, uint16_t ms) {
  uint32_t frames = ms == 0 ? 1u : hs_div_up16(ms, HS_FRAME_MS);
  /* A pin that has settled its time already; one that has no farther to go and is no slower needs no more. */
  uint16_t settled_ticks = 0;
  uint32_t settled_us_per_s = 0;
  uint8_t i;
  for (i = 0; i < move->count; i++) {
    const hs_slot *slot = move->slots[i];
    if (slot != NULL) {
      uint16_t distance = hs_gap(slot->now, move->ticks[i]);
      uint32_t us_per_s = core->slew[slot->pin];
      if (distance <= settled_ticks && us_per_s >= settled_us_per_s) {
        continue;
      }
      if (!hs_ramp_is_quick(distance, us_per_s)) {
        frames = hs_ramp_frames(distance, us_per_s, frames);
      }
      settled_ticks = distance;
      settled_us_per_s = us_per_s;
    }
  }
  for (i = 0; i < move->count; i++) {
    if (move->slots[i] != NULL) {
      hs_ramp_start(move->slots[i], move->ticks[i], frames);
    }
  }
  hs_out_field(&core->out, HS_TEXT(" ms="), hs_mul32(frames, HS_FRAME_MS));
}

static void go(hs_core *core, hs_request *request) {
  hs_move move;
  uint8_t seen[HS_PIN_BYTES] = {0};
  uint16_t ms;
  uint8_t i;
  hs_request_expect(request, 2, 17);
  if (request->why == HS_WHY_COUNT) {
    return;
  }
  ms = (uint16_t)hs_request_whole(request, 0, 60000);
  check_frozen(core, request);
  move.count = (uint8_t)(request->words - 1u);
  for (i = 0; i < move.count; i++) {
    hs_word word = hs_request_next(request);
    const uint8_t *pulse = hs_word_split(&word);
    uint8_t pin;
    if (pulse == NULL || !hs_word_ticks(&pulse, &move.ticks[i])) {
      hs_request_note(request, HS_WHY_NUMBER, 0);
      continue;
    }
    pin = hs_request_pin(request, word, seen);
    if (pin != 0) {
      move.slots[i] = check_move(core, request, pin, move.ticks[i]);
    }
  }
  if (request->why == HS_WHY_NOT) {
    start(core, &move, ms);
  }
}

static void pose(hs_core *core, hs_request *request) {
  hs_move move;
  /* Walked by hand: nearly all bytes of a busy link are a pose's pulses. */
  const uint8_t *at;
  uint16_t ms;
  uint8_t i;
  hs_request_expect(request, 2, HS_MOST + 1u);
  if (request->why == HS_WHY_COUNT) {
    return;
  }
  ms = (uint16_t)hs_request_whole(request, 0, 60000);
  check_frozen(core, request);
  move.count = (uint8_t)(request->words - 1u);
  if (move.count != core->roster_count) {
    hs_request_note(request, HS_WHY_ROSTER, 0);
  }
  at = request->at;
  for (i = 0; i < move.count; i++) {
    uint16_t ticks = HS_TICKS_LEAST;
    move.slots[i] = NULL;
    while (*at == ' ') {
      at++;
    }
    if (at[0] == '-' && at[1] <= ' ') {
      at++;
      continue;
    }
    if (!hs_word_ticks(&at, &ticks)) {
      hs_request_note(request, HS_WHY_NUMBER, 0);
      while (*at > ' ') {
        at++;
      }
    }
    move.ticks[i] = ticks;
    if (i < core->roster_count) {
      move.slots[i] = check_move(core, request, core->roster[i], ticks);
    }
  }
  if (request->why == HS_WHY_NOT) {
    start(core, &move, ms);
  }
}

static void peck(hs_core *core, hs_request *request) {
  hs_slot *slot;
  uint8_t pin;
  uint16_t ticks;
  uint8_t frames;
  hs_request_expect(request, 3, 3);
  pin = hs_request_pin(request, hs_request_next(request), NULL);
  ticks = hs_request_ticks(request);
  frames = (uint8_t)(hs_request_whole(request, 0, 250) / HS_FRAME_MS);
  check_frozen(core, request);
  slot = check_move(core, request, pin, ticks);
  if (slot != NULL && hs_gap(ticks, hs_ramp_peck_start(slot)) > HS_PECK_TICKS) {
    hs_request_note(request, HS_WHY_BOUNDS, 0);
  }
  if (request->why == HS_WHY_NOT) {
    hs_ramp_peck(slot, ticks, frames > 0 ? frames : 1u);
  }
}

void hs_verb_move(hs_core *core, hs_request *request) {
  switch (request->verb) {
    case HS_WAKE:
      wake(core, request);
      break;
    case HS_GO:
      go(core, request);
      break;
    case HS_POSE:
      pose(core, request);
      break;
    default:
      peck(core, request);
      break;
  }
}
