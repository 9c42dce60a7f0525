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

/* Notes why this pin cannot go to this pulse; the pin is a pin. */
static void check_move(hs_core *core, hs_request *request, uint8_t pin, uint16_t ticks) {
  uint8_t state = hs_pin_state(core, pin);
  if (state != HS_AWAKE) {
    hs_request_note(request, state == HS_FREE ? HS_WHY_LIMP : HS_WHY_WAKING, pin);
  }
  check_pulse(core, request, pin, ticks);
}

/* Reads a pulse; notes `number`. */
static uint16_t read_pulse(hs_request *request, hs_word word) {
  uint16_t ticks = HS_TICKS_LEAST;
  if (!hs_word_ticks(word, &ticks)) {
    hs_request_note(request, HS_WHY_NUMBER, 0);
  }
  return ticks;
}

static void wake(hs_core *core, hs_request *request) {
  uint8_t pin;
  uint8_t state;
  uint16_t ticks;
  hs_request_expect(request, 2, 2);
  pin = hs_request_pin(request, hs_request_next(request), NULL);
  ticks = read_pulse(request, hs_request_next(request));
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

/* A move that was read, one place for each pin; pin 0: leave it. */
typedef struct hs_move {
  uint8_t pins[HS_MOST];
  uint16_t ticks[HS_MOST];
  uint8_t count;
} hs_move;

/* Starts every pin of a move, so that all arrive together, and answers how long it takes. */
static void start(hs_core *core, const hs_move *move, uint16_t ms) {
  uint32_t frames = hs_div_up(ms, HS_FRAME_MS);
  uint8_t i;
  if (frames == 0) {
    frames = 1;
  }
  for (i = 0; i < move->count; i++) {
    uint8_t pin = move->pins[i];
    if (pin != 0) {
      frames = hs_ramp_frames(hs_gap(core->slots[core->slot_of[pin]].now, move->ticks[i]), core->slew[pin], frames);
    }
  }
  for (i = 0; i < move->count; i++) {
    uint8_t pin = move->pins[i];
    if (pin != 0) {
      hs_ramp_start(&core->slots[core->slot_of[pin]], move->ticks[i], frames);
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
    hs_word after;
    if (!hs_word_split(&word, &after)) {
      hs_request_note(request, HS_WHY_NUMBER, 0);
      continue;
    }
    move.pins[i] = hs_request_pin(request, word, seen);
    move.ticks[i] = read_pulse(request, after);
    if (move.pins[i] != 0) {
      check_move(core, request, move.pins[i], move.ticks[i]);
    }
  }
  if (request->why == HS_WHY_NOT) {
    start(core, &move, ms);
  }
}

static void pose(hs_core *core, hs_request *request) {
  hs_move move;
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
  for (i = 0; i < move.count; i++) {
    hs_word word = hs_request_next(request);
    move.pins[i] = 0;
    if (word.count == 1 && word.text[0] == '-') {
      continue;
    }
    move.ticks[i] = read_pulse(request, word);
    if (i < core->roster_count) {
      move.pins[i] = core->roster[i];
      check_move(core, request, move.pins[i], move.ticks[i]);
    }
  }
  if (request->why == HS_WHY_NOT) {
    start(core, &move, ms);
  }
}

static void peck(hs_core *core, hs_request *request) {
  uint8_t pin;
  uint16_t ticks;
  uint16_t hold_ms;
  uint8_t frames;
  hs_request_expect(request, 3, 3);
  pin = hs_request_pin(request, hs_request_next(request), NULL);
  ticks = read_pulse(request, hs_request_next(request));
  hold_ms = (uint16_t)hs_request_whole(request, 0, 250);
  check_frozen(core, request);
  check_move(core, request, pin, ticks);
  if (hs_pin_state(core, pin) == HS_AWAKE &&
      hs_gap(ticks, hs_ramp_peck_start(&core->slots[core->slot_of[pin]])) > HS_PECK_TICKS) {
    hs_request_note(request, HS_WHY_BOUNDS, 0);
  }
  if (request->why != HS_WHY_NOT) {
    return;
  }
  frames = (uint8_t)(hold_ms / HS_FRAME_MS);
  hs_ramp_peck(&core->slots[core->slot_of[pin]], ticks, frames > 0 ? frames : 1u);
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
