/* hs_out.c: composing one line for the host. */
#include "hs_out.h"

#include <stdbool.h>

#include "hs_crc.h"

void hs_out_clear(hs_out *out) { out->count = 0; }

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

/* Writes how often the unit goes into the value, and gives what remains. Counting subtractions takes a fraction of the
 * chip's division. */
static uint16_t out_digit(hs_out *out, uint16_t value, uint16_t unit) {
  uint8_t digit = '0';
  while (value >= unit) {
    value = (uint16_t)(value - unit);
    digit++;
  }
  hs_out_byte(out, digit);
  return value;
}

/* Below 10000; with all four digits when others stand before them. */
static void out_four(hs_out *out, uint16_t value, bool has_begun) {
  has_begun = has_begun || value >= 1000u;
  if (has_begun) {
    value = out_digit(out, value, 1000u);
  }
  if (has_begun || value >= 100u) {
    value = out_digit(out, value, 100u);
    value = out_digit(out, value, 10u);
    hs_out_byte(out, (uint8_t)('0' + value));
  } else {
    hs_out_small(out, (uint8_t)value);
  }
}

void hs_out_small(hs_out *out, uint8_t value) {
  uint8_t tens = '0';
  while (value >= 10u) {
    value = (uint8_t)(value - 10u);
    tens++;
  }
  if (tens != '0') {
    hs_out_byte(out, tens);
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
  /* Half of 16 bits may have five digits; a pulse never does. */
  uint16_t us = (uint16_t)(ticks >> 1);
  if (us < 10000u) {
    out_four(out, us, false);
  } else {
    hs_out_whole(out, us);
  }
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
  const uint8_t *at = out->bytes;
  uint8_t left;
  for (left = out->count; left > 0; left--) {
    crc = hs_crc_add(crc, *at);
    at++;
  }
  hs_out_byte(out, ';');
  hex(out, crc, 4, 'A');
  hs_out_byte(out, '\n');
}
