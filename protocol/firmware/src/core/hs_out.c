/* hs_out.c: composing one line for the host. */
#include "hs_out.h"

#include <stdbool.h>

#include "hs_crc.h"

void hs_out_clear(hs_out *out) { out->count = 0; }

void hs_out_byte(hs_out *out, uint8_t byte) {
  /* No line the core composes comes near the end (PROTOCOL.md bounds each); a bug must still not leave the buffer. */
  if (out->count < sizeof out->bytes) {
    out->bytes[out->count] = byte;
    out->count++;
  }
}

void hs_out_text(hs_out *out, const hs_text *text) {
  uint16_t at = 0;
  uint8_t byte = hs_text_at(text, at);
  while (byte != 0) {
    hs_out_byte(out, byte);
    at++;
    byte = hs_text_at(text, at);
  }
}

void hs_out_word(hs_out *out, const hs_text *words, uint8_t index) {
  uint16_t at = 0;
  uint8_t byte;
  while (index > 0) {
    if (hs_text_at(words, at) == ' ') {
      index--;
    }
    at++;
  }
  byte = hs_text_at(words, at);
  while (byte != 0 && byte != ' ') {
    hs_out_byte(out, byte);
    at++;
    byte = hs_text_at(words, at);
  }
}

void hs_out_ram(hs_out *out, const char *text) {
  uint8_t i;
  for (i = 0; i < 24 && text[i] != 0; i++) {
    hs_out_byte(out, (uint8_t)text[i]);
  }
}

/* Below 10000. Counting subtractions takes a fraction of the chip's division. */
static void out_four(hs_out *out, uint16_t value, bool has_begun) {
  uint16_t unit;
  for (unit = 1000; unit > 1; unit = unit == 1000 ? 100 : unit == 100 ? 10 : 1) {
    uint8_t digit = '0';
    while (value >= unit) {
      value = (uint16_t)(value - unit);
      digit++;
    }
    has_begun = has_begun || digit != '0';
    if (has_begun) {
      hs_out_byte(out, digit);
    }
  }
  hs_out_byte(out, (uint8_t)('0' + value));
}

void hs_out_whole(hs_out *out, uint32_t value) {
  if (value < 10000u) {
    out_four(out, (uint16_t)value, false);
    return;
  }
  if (value >= 100000000u) {
    out_four(out, (uint16_t)(value / 100000000u), false);
    value %= 100000000u;
    out_four(out, (uint16_t)(value / 10000u), true);
  } else {
    out_four(out, (uint16_t)(value / 10000u), false);
  }
  out_four(out, (uint16_t)(value % 10000u), true);
}

void hs_out_ticks(hs_out *out, uint16_t ticks) {
  hs_out_whole(out, (uint16_t)(ticks >> 1));
  if ((ticks & 1u) != 0) {
    hs_out_byte(out, '.');
    hs_out_byte(out, '5');
  }
}

/* The lowest `digits` hex digits of the value, the letters from `ten` on. */
static void hex(hs_out *out, uint32_t value, uint8_t digits, uint8_t ten) {
  while (digits > 0) {
    uint8_t nibble;
    digits--;
    nibble = (uint8_t)((value >> (digits * 4u)) & 15u);
    hs_out_byte(out, (uint8_t)(nibble < 10 ? nibble + '0' : nibble - 10 + ten));
  }
}

void hs_out_id(hs_out *out, uint32_t id) { hex(out, id, 8, 'a'); }

void hs_out_field(hs_out *out, const hs_text *key, uint32_t value) {
  hs_out_text(out, key);
  hs_out_whole(out, value);
}

void hs_out_close(hs_out *out) {
  uint16_t crc = HS_CRC_START;
  uint8_t i;
  for (i = 0; i < out->count; i++) {
    crc = hs_crc_add(crc, out->bytes[i]);
  }
  hs_out_byte(out, ';');
  hex(out, crc, 4, 'A');
  hs_out_byte(out, '\n');
}
