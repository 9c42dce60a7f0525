/* hs_args.c: taking a request's words one by one, and noting what is wrong with them. */
#include "hs_board.h"
#include "hs_request.h"

hs_word hs_request_next(hs_request *request) {
  hs_word word;
  const uint8_t *at = request->at;
  while (*at == ' ') {
    at++;
  }
  word.text = at;
  while (*at > ' ') {
    at++;
  }
  word.count = (uint8_t)(at - word.text);
  request->at = at;
  return word;
}

void hs_request_note(hs_request *request, uint8_t why, uint8_t pin) {
  if (why < request->why) {
    request->why = why;
    request->why_pin = pin;
  }
}

void hs_request_expect(hs_request *request, uint8_t least, uint8_t most) {
  if (request->words < least || request->words > most) {
    hs_request_note(request, HS_WHY_COUNT, 0);
  }
}

uint32_t hs_request_whole(hs_request *request, uint32_t low, uint32_t high) {
  uint32_t value;
  if (!hs_word_whole(hs_request_next(request), &value) || value < low || value > high) {
    hs_request_note(request, HS_WHY_NUMBER, 0);
    return low;
  }
  return value;
}

uint16_t hs_request_ticks(hs_request *request) {
  uint16_t ticks = HS_TICKS_LEAST;
  while (*request->at == ' ') {
    request->at++;
  }
  if (!hs_word_ticks(&request->at, &ticks)) {
    hs_request_note(request, HS_WHY_NUMBER, 0);
    hs_request_next(request);
  }
  return ticks;
}

uint8_t hs_request_pin(hs_request *request, hs_word word, uint8_t seen[HS_PIN_BYTES]) {
  uint8_t pin = hs_word_pin(word);
  if (pin == 0) {
    hs_request_note(request, HS_WHY_PIN, 0);
    return 0;
  }
  if (seen != NULL) {
    if (hs_set_has(seen, pin)) {
      hs_request_note(request, HS_WHY_TWICE, pin);
      return 0;
    }
    hs_set_add(seen, pin);
  }
  return pin;
}

uint8_t hs_request_input(hs_core *core, hs_request *request, uint8_t *seen) {
  uint8_t input = hs_word_input(hs_request_next(request));
  if (input == HS_NONE || core->slot_of[HS_PIN_OF_INPUT(input)] != HS_NONE) {
    hs_request_note(request, HS_WHY_INPUT, 0);
  }
  if (input == HS_NONE) {
    return HS_NONE;
  }
  if (seen != NULL) {
    if ((*seen & hs_bit(input)) != 0) {
      hs_request_note(request, HS_WHY_TWICE, 0);
    }
    *seen = (uint8_t)(*seen | hs_bit(input));
  }
  return input;
}
