/* hs_text.h: constant text, which lies in flash on a chip that has a separate one.
 *
 * A text is only ever a pointer to an incomplete type, so that `*p` and `p[i]` do not compile anywhere; hs_text_at is
 * the one way to read it. HS_TEXT is for use inside functions. */
#ifndef HS_TEXT_H
#define HS_TEXT_H

#include <stdint.h>

/* Never completed. */
typedef struct hs_text hs_text;

#if defined(__AVR__)
#include <avr/pgmspace.h>
#define HS_TEXT(words) ((const hs_text *)(const void *)PSTR(words))
/* The byte at this place; 0 at the end. */
static inline uint8_t hs_text_at(const hs_text *text, uint16_t at) {
  return pgm_read_byte((const uint8_t *)(const void *)text + at);
}
#else
#define HS_TEXT(words) ((const hs_text *)(const void *)(words))
/* The byte at this place; 0 at the end. */
static inline uint8_t hs_text_at(const hs_text *text, uint16_t at) {
  return ((const uint8_t *)(const void *)text)[at];
}
#endif

#endif
