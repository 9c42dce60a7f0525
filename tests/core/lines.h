/* lines.h: makes lines that a board may take seriously: legal requests at and around every limit, and the same
 * with a few bytes or words spoilt. It knows the grammar and nothing of the board's state, except for what
 * the caller tells it. */
#ifndef LINES_H
#define LINES_H

#include <stddef.h>
#include <stdint.h>

#include "random.h"

#define LINES_MOST 600u

typedef struct line_maker {
  random_source *random;
  /* The tag given last, and the number of the newest freeze heard of. */
  uint32_t tag;
  uint32_t freeze;
  /* Pins are drawn from first_pin and pin_count on, nearly always. */
  uint32_t first_pin;
  uint32_t pin_count;
  /* The board seems frozen: thaw more often. */
  bool is_frozen;
  /* Nothing that stops pins is sent: wakes, moves and settings only, so that many pins come to be awake. */
  bool is_calm;
  /* Values on the roster, as far as the maker knows. */
  uint32_t roster;
} line_maker;

/* Writes a body without a check, and returns its length; at most LINES_MOST - 8. */
size_t lines_body(line_maker *m, char *text);

/* Spoils a body in place: bytes replaced, words doubled, dropped or swapped. Returns the new length. */
size_t lines_spoil(line_maker *m, char *text, size_t count);

#endif
