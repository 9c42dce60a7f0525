/* hs_verb_set.c: the verbs that change what stands, and move nothing. */
#include <string.h>

#include "hs_board.h"
#include "hs_request.h"

static void thaw(hs_core *core, hs_request *request) {
  uint32_t n;
  hs_request_expect(request, 1, 1);
  n = hs_request_whole(request, 1, 0xFFFFFFFFu);
  if (core->is_frozen && hs_noise_is_fresh(core)) {
    hs_request_note(request, HS_WHY_NOISY, 0);
  }
  if (core->is_frozen && n != core->freezes) {
    hs_request_note(request, HS_WHY_FROZEN, 0);
  }
  if (request->why == HS_WHY_NOT) {
    core->is_frozen = false;
    hs_trip_rearm(core);
  }
}

/* Next word as a guard's bound; notes `number` or `outside`. */
static uint16_t bound(hs_request *request) {
  uint16_t ticks = hs_request_ticks(request);
  if (ticks < HS_TICKS_LEAST || ticks > HS_TICKS_MOST) {
    hs_request_note(request, HS_WHY_OUTSIDE, 0);
  }
  return ticks;
}

/* Whether the slot's pin has, or is on its way to, a pulse outside these bounds. */
static bool would_exclude(const hs_slot *slot, uint16_t low, uint16_t high) {
  return slot->now < low || slot->now > high || slot->to < low || slot->to > high ||
         (slot->peck > 0 && (slot->step < low || slot->step > high));
}

static void guard(hs_core *core, hs_request *request) {
  uint8_t pin;
  uint16_t low;
  uint16_t high;
  hs_request_expect(request, 3, 3);
  pin = hs_request_pin(request, hs_request_next(request), NULL);
  low = bound(request);
  high = bound(request);
  if (low > high ||
      (core->slot_of[pin] != HS_NONE && would_exclude(&core->slots[core->slot_of[pin]], low, high))) {
    hs_request_note(request, HS_WHY_BOUNDS, 0);
  }
  if (request->why == HS_WHY_NOT) {
    core->low[pin] = low;
    core->high[pin] = high;
  }
}

static void slew(hs_core *core, hs_request *request) {
  hs_word word;
  bool is_all;
  uint8_t pin = 2;
  uint32_t us_per_s;
  hs_request_expect(request, 2, 2);
  word = hs_request_next(request);
  is_all = hs_word_find(word, HS_TEXT("all")) == 0;
  if (!is_all) {
    pin = hs_request_pin(request, word, NULL);
  }
  us_per_s = hs_request_whole(request, 1, 100000);
  if (request->why != HS_WHY_NOT) {
    return;
  }
  core->slew[pin] = us_per_s;
  for (pin = 0; is_all && pin < HS_PINS; pin++) {
    core->slew[pin] = us_per_s;
  }
}

static void silence(hs_core *core, hs_request *request) {
  uint16_t freeze_ms;
  uint16_t limp_ms;
  hs_request_expect(request, 2, 2);
  freeze_ms = (uint16_t)hs_request_whole(request, 100, 2000);
  limp_ms = (uint16_t)hs_request_whole(request, freeze_ms, 60000);
  if (request->why == HS_WHY_NOT) {
    core->silence_freeze_ms = freeze_ms;
    core->silence_limp_ms = limp_ms;
  }
}

static void roster(hs_core *core, hs_request *request) {
  hs_request again = *request;
  uint8_t seen[HS_PIN_BYTES] = {0};
  uint8_t i;
  hs_request_expect(request, 1, HS_MOST);
  for (i = 0; i < request->words; i++) {
    hs_request_pin(request, hs_request_next(request), seen);
  }
  if (request->why != HS_WHY_NOT) {
    return;
  }
  for (i = 0; i < request->words; i++) {
    core->roster[i] = hs_word_pin(hs_request_next(&again));
  }
  core->roster_count = request->words;
  hs_out_field(&core->out, HS_TEXT(" pins="), core->roster_count);
}

static void watch(hs_core *core, hs_request *request) {
  hs_request again;
  uint16_t ms;
  uint8_t seen = 0;
  uint8_t i;
  hs_request_expect(request, 1, HS_WORDS_ANY);
  again = *request;
  if (hs_word_find(hs_request_next(&again), HS_TEXT("0")) == 0) {
    *request = again;
    hs_request_expect(request, 1, 1);
    ms = 0;
  } else {
    ms = (uint16_t)hs_request_whole(request, 50, 60000);
  }
  again = *request;
  for (i = 1; i < request->words; i++) {
    hs_request_input(core, request, &seen);
  }
  if (request->why != HS_WHY_NOT) {
    return;
  }
  core->watch_ms = ms;
  core->watch_count = (uint8_t)(request->words - 1u);
  for (i = 0; i < core->watch_count; i++) {
    core->watch_inputs[i] = hs_word_input(hs_request_next(&again));
  }
  core->watch_at = hs_now(core);
  core->watch_frame = core->frame;
  core->where_next = HS_NONE;
  core->tell_sense = false;
  hs_inputs_changed(core);
}

/* Whether the second and third word are both 0: the trip is to go. */
static bool is_removal(hs_request request) {
  hs_word mv;
  hs_word ms;
  hs_request_next(&request);
  mv = hs_request_next(&request);
  ms = hs_request_next(&request);
  return hs_word_find(mv, HS_TEXT("0")) == 0 && hs_word_find(ms, HS_TEXT("0")) == 0;
}

static void trip(hs_core *core, hs_request *request) {
  hs_trip made;
  uint8_t input;
  uint8_t action;
  uint8_t i;
  memset(&made, 0, sizeof made);
  if (request->words == 3 && is_removal(*request)) {
    input = hs_request_input(core, request, NULL);
  } else {
    hs_request_expect(request, 4, HS_WORDS_ANY);
    input = hs_request_input(core, request, NULL);
    made.mv = (uint16_t)hs_request_whole(request, 1, 5500);
    made.hold_ms = (uint16_t)hs_request_whole(request, 1, 1000);
    action = hs_word_find(hs_request_next(request), HS_TEXT("freeze limp"));
    if (action == HS_NONE) {
      hs_request_note(request, HS_WHY_NUMBER, 0);
    } else if (action == 0) {
      hs_request_expect(request, 4, 4);
    }
    made.is_limp = action == 1;
    for (i = 4; i < request->words; i++) {
      hs_request_pin(request, hs_request_next(request), made.pins);
    }
  }
  if (request->why == HS_WHY_NOT) {
    core->trips[input] = made;
    hs_inputs_changed(core);
  }
}

void hs_verb_set(hs_core *core, hs_request *request) {
  switch (request->verb) {
    case HS_THAW:
      thaw(core, request);
      break;
    case HS_GUARD:
      guard(core, request);
      break;
    case HS_SLEW:
      slew(core, request);
      break;
    case HS_SILENCE:
      silence(core, request);
      break;
    case HS_ROSTER:
      roster(core, request);
      break;
    case HS_WATCH:
      watch(core, request);
      break;
    case HS_TRIP:
      trip(core, request);
      break;
    default:
      /* `beat`: being done is all it does. */
      hs_request_expect(request, 0, 0);
      break;
  }
}
