/* hs_word.h: a word of the line being executed, and reading numbers, pulses, pins and inputs from it. */
#ifndef HS_WORD_H
#define HS_WORD_H

#include <stdbool.h>
#include <stdint.h>

#include "hs_text.h"

/* A pulse that is written well but lies outside anything the core can hold. */
#define HS_TICKS_HUGE 0xFFFFu

/* A run of printable bytes inside the line buffer, which owns them. */
typedef struct hs_word {
  /* First byte. */
  const uint8_t *text;
  /* Bytes; 0 for no word. */
  uint8_t count;
} hs_word;

/* Whether the word starts like a number. */
bool hs_word_is_number_like(hs_word word);

/* Index of the word in a text of words with one blank between them; 0xFF when it is not there. */
uint8_t hs_word_find(hs_word word, const hs_text *words);

/* A whole number without sign or leading zero, 0 to 4294967295. False: malformed or larger. */
bool hs_word_whole(hs_word word, uint32_t *value);

/* A pulse in microseconds, with .5 or without, as ticks of 0.5 us, read from *at, which is left behind it, at a blank or
 * the 0 that ends the text. False: malformed, and *at is left somewhere inside. Well-formed but too large for 16 bits
 * gives HS_TICKS_HUGE. Reads without a word in between: nearly all bytes of a busy link are pulses. */
bool hs_word_ticks(const uint8_t **at, uint16_t *ticks);

/* A pin, 2 to 69 or A0 to A15. 0: not a pin. */
uint8_t hs_word_pin(hs_word word);

/* An input, a0 to a7. 0xFF: no such input. */
uint8_t hs_word_input(hs_word word);

/* Cuts the word at its first colon: what stands before stays. Returns what follows; null: no colon. */
const uint8_t *hs_word_split(hs_word *word);

#endif
