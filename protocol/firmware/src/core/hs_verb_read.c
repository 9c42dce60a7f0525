/* hs_verb_read.c: the verbs that only tell, and the two that stop. */
#include "hs_board.h"
#include "hs_request.h"

static void help(hs_core *core) {
  const hs_text *verbs = HS_TEXT(HS_VERBS);
  uint16_t at = 0;
  uint8_t byte;
  hs_out_text(&core->out, HS_TEXT(" verbs="));
  for (byte = hs_text_at(verbs, at); byte != 0; byte = hs_text_at(verbs, at)) {
    hs_out_byte(&core->out, byte == ' ' ? ',' : byte);
    at++;
  }
}

/* The pins that were asked for, at most HS_WHERE_PINS of them. */
static void where_pins(hs_core *core, hs_request *request) {
  hs_request again = *request;
  uint8_t seen[HS_PIN_BYTES] = {0};
  uint8_t i;
  for (i = 0; i < request->words; i++) {
    hs_request_pin(request, hs_request_next(request), seen);
  }
  if (request->why != HS_WHY_NOT) {
    return;
  }
  for (i = 0; i < request->words && i < HS_WHERE_PINS; i++) {
    hs_out_pin(core, &core->out, hs_word_pin(hs_request_next(&again)));
  }
  if (request->words > HS_WHERE_PINS) {
    hs_out_field(&core->out, HS_TEXT(" more="), hs_word_pin(hs_request_next(&again)));
  }
}

static void where(hs_core *core, hs_request *request) {
  hs_request first = *request;
  uint8_t next = 0;
  if (request->words > 0 && hs_word_find(hs_request_next(&first), HS_TEXT("from")) == 0) {
    *request = first;
    if (request->words != 2) {
      hs_request_note(request, HS_WHY_COUNT, 0);
      return;
    }
    next = hs_request_pin(request, hs_request_next(request), NULL);
  } else if (request->words > 0) {
    where_pins(core, request);
    next = HS_NONE;
  }
  if (request->why != HS_WHY_NOT) {
    return;
  }
  if (next != HS_NONE) {
    next = hs_out_pins(core, &core->out, next, HS_WHERE_PINS);
    if (next != HS_NONE) {
      hs_out_field(&core->out, HS_TEXT(" more="), next);
    }
  }
  hs_out_frozen(core, &core->out);
}

static void sense(hs_core *core, hs_request *request) {
  hs_request again = *request;
  uint8_t seen = 0;
  uint8_t i;
  for (i = 0; i < request->words; i++) {
    hs_request_input(core, request, &seen);
  }
  if (request->why != HS_WHY_NOT) {
    return;
  }
  if (request->words == 0) {
    hs_out_counts(core);
  }
  for (i = 0; i < request->words; i++) {
    hs_out_input(core, hs_word_input(hs_request_next(&again)));
  }
}

static void guard(hs_core *core, hs_request *request) {
  hs_out *out = &core->out;
  uint8_t pin;
  hs_request_expect(request, 1, 1);
  pin = hs_request_pin(request, hs_request_next(request), NULL);
  if (request->why != HS_WHY_NOT) {
    return;
  }
  hs_out_field(out, HS_TEXT(" pin="), pin);
  hs_out_text(out, HS_TEXT(" low="));
  hs_out_ticks(out, hs_guard_low(core, pin));
  hs_out_text(out, HS_TEXT(" high="));
  hs_out_ticks(out, hs_guard_high(core, pin));
  hs_out_text(out, core->low[pin] != 0 ? HS_TEXT(" set=yes") : HS_TEXT(" set=no"));
}

static void slew(hs_core *core, hs_request *request) {
  uint8_t pin;
  hs_request_expect(request, 1, 1);
  pin = hs_request_pin(request, hs_request_next(request), NULL);
  if (request->why != HS_WHY_NOT) {
    return;
  }
  hs_out_field(&core->out, HS_TEXT(" pin="), pin);
  hs_out_field(&core->out, HS_TEXT(" us_per_s="), core->slew[pin]);
}

void hs_verb_read(hs_core *core, hs_request *request) {
  switch (request->verb) {
    case HS_HELLO:
    case HS_HELP:
      hs_request_expect(request, 0, 0);
      if (request->why != HS_WHY_NOT) {
        return;
      }
      if (request->verb == HS_HELLO) {
        hs_out_hello(core);
      } else {
        help(core);
      }
      break;
    case HS_WHERE:
      where(core, request);
      break;
    case HS_SENSE:
      sense(core, request);
      break;
    case HS_GUARD:
      guard(core, request);
      break;
    case HS_SLEW:
      slew(core, request);
      break;
    default:
      if (request->why != HS_WHY_NOT) {
        return;
      }
      hs_out_field(&core->out, HS_TEXT(" freeze_ms="), core->silence_freeze_ms);
      hs_out_field(&core->out, HS_TEXT(" limp_ms="), core->silence_limp_ms);
      break;
  }
}

static void limp(hs_core *core, hs_request *request) {
  uint8_t seen[HS_PIN_BYTES] = {0};
  uint8_t pin;
  uint8_t i;
  for (i = 0; i < request->words; i++) {
    hs_request_pin(request, hs_request_next(request), seen);
  }
  if (request->why != HS_WHY_NOT) {
    return;
  }
  if (request->words == 0) {
    hs_pins_limp(core);
    return;
  }
  for (pin = 2; pin < HS_PINS; pin++) {
    if (hs_set_has(seen, pin)) {
      hs_pin_limp(core, pin);
    }
  }
}

void hs_verb_stop(hs_core *core, hs_request *request) {
  if (request->verb == HS_LIMP) {
    limp(core, request);
    return;
  }
  hs_request_expect(request, 0, 0);
  if (request->why == HS_WHY_NOT) {
    hs_freeze(core, HS_BY_ASKED);
    hs_out_field(&core->out, HS_TEXT(" n="), core->freezes);
  }
}
