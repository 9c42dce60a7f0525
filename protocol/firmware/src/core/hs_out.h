/* hs_out.h: composing one line for the host. The line is built whole, then handed over in one piece. */
#ifndef HS_OUT_H
#define HS_OUT_H

#include <stdint.h>

#include "hs_text.h"

/* A line under construction. */
typedef struct hs_out {
  /* How many bytes so far; first, so that the chip reaches it by a short offset. */
  uint8_t count;
  /* The bytes; as many as the longest line has. */
  uint8_t bytes[255];
} hs_out;

/* An empty line. */
void hs_out_clear(hs_out *out);
/* One byte. */
static inline void hs_out_byte(hs_out *out, uint8_t byte) {
  /* No line the core composes comes near the end (PROTOCOL.md bounds each); a bug must still not leave the buffer. */
  if (out->count < sizeof out->bytes) {
    out->bytes[out->count] = byte;
    out->count++;
  }
}
/* Constant text. */
void hs_out_text(hs_out *out, const hs_text *text);
/* Word number index of a text of words with one blank between them. */
void hs_out_word(hs_out *out, const hs_text *words, uint8_t index);
/* Text in RAM, at most 24 bytes of it. */
void hs_out_ram(hs_out *out, const char *text);
/* A whole number below 100, decimal. */
void hs_out_small(hs_out *out, uint8_t value);
/* A whole number, decimal. */
void hs_out_whole(hs_out *out, uint32_t value);
/* A pulse in ticks of 0.5 us, printed in microseconds with .5 where due. */
void hs_out_ticks(hs_out *out, uint16_t ticks);
/* Eight lower-case hex digits. */
void hs_out_id(hs_out *out, uint32_t id);
/* A key with its blank before and its sign after, e.g. HS_TEXT(" ms="), and a whole number. */
void hs_out_field(hs_out *out, const hs_text *key, uint32_t value);
/* Writes the check and the line's end. */
void hs_out_close(hs_out *out);

#endif
