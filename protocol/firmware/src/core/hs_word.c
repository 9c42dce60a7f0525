/* hs_word.c: reading words. */
#include "hs_word.h"

#include <stddef.h>

#include "hs_core.h"
#include "hs_math.h"

static bool is_digit(uint8_t byte) { return byte >= '0' && byte <= '9'; }

bool hs_word_is_number_like(hs_word word) { return word.count > 0 && is_digit(word.text[0]); }

uint8_t hs_word_find(hs_word word, const hs_text *words) {
  uint16_t at = 0;
  uint8_t index = 0;
  for (;;) {
    uint8_t i = 0;
    uint8_t byte = hs_text_at(words, at);
    while (i < word.count && byte == word.text[i]) {
      i++;
      at++;
      byte = hs_text_at(words, at);
    }
    if (i == word.count && (byte == ' ' || byte == 0)) {
      return index;
    }
    while (byte != ' ' && byte != 0) {
      at++;
      byte = hs_text_at(words, at);
    }
    if (byte == 0) {
      return 0xFF;
    }
    at++;
    index++;
  }
}

/* Digits from the start of the word; how many were read. The value is capped at 65535: nothing that needs this helper
 * takes more, and 16 bits are several times faster on the chip. */
static uint8_t digits16(hs_word word, uint16_t *value) {
  const uint8_t *at = word.text;
  const uint8_t *end = at + word.count;
  uint16_t sum = 0;
  while (at < end && is_digit(*at)) {
    sum = sum >= 6553u ? 0xFFFFu : (uint16_t)(sum * 10u + (uint8_t)(*at - '0'));
    at++;
  }
  *value = sum;
  return (uint8_t)(at - word.text);
}

static bool has_leading_zero(hs_word word, uint8_t digits) { return digits > 1 && word.text[0] == '0'; }

bool hs_word_whole(hs_word word, uint32_t *value) {
  uint32_t sum = 0;
  uint16_t low;
  uint8_t i;
  if (word.count == 0) {
    return false;
  }
  if (word.count <= 4) {
    i = digits16(word, &low);
    *value = low;
    return i == word.count && !has_leading_zero(word, i);
  }
  if (word.count > 10 || word.text[0] == '0') {
    return false;
  }
  for (i = 0; i < word.count; i++) {
    uint8_t digit;
    if (!is_digit(word.text[i])) {
      return false;
    }
    digit = (uint8_t)(word.text[i] - '0');
    if (sum > 429496729u || (sum == 429496729u && digit > 5)) {
      return false;
    }
    sum = hs_mul32(sum, 10) + digit;
  }
  *value = sum;
  return true;
}

bool hs_word_ticks(const uint8_t **text, uint16_t *ticks) {
  const uint8_t *at = *text;
  uint16_t us = 0;
  uint8_t digit = (uint8_t)(*at - '0');
  bool is_half = false;
  if (digit > 9 || (digit == 0 && is_digit(at[1]))) {
    return false;
  }
  do {
    us = us >= 6553u ? 0xFFFFu : (uint16_t)(us * 10u + digit);
    at++;
    digit = (uint8_t)(*at - '0');
  } while (digit <= 9);
  if (*at == '.' && at[1] == '5') {
    is_half = true;
    at += 2;
  }
  *text = at;
  *ticks = us > 32767u ? HS_TICKS_HUGE : (uint16_t)(us * 2u + (is_half ? 1u : 0u));
  return *at <= ' ';
}

uint8_t hs_word_pin(hs_word word) {
  uint16_t number;
  bool analog = word.count > 0 && word.text[0] == 'A';
  if (analog) {
    word.text++;
    word.count--;
  }
  if (word.count == 0 || word.count > 2 || digits16(word, &number) != word.count ||
      has_leading_zero(word, word.count)) {
    return 0;
  }
  if (analog) {
    number = number <= 15u ? (uint16_t)(number + 54u) : 0u;
  }
  return (uint8_t)(number >= 2u && number < HS_PINS ? number : 0u);
}

uint8_t hs_word_input(hs_word word) {
  if (word.count != 2 || word.text[0] != 'a' || word.text[1] < '0' || word.text[1] > '7') {
    return 0xFF;
  }
  return (uint8_t)(word.text[1] - '0');
}

const uint8_t *hs_word_split(hs_word *word) {
  uint8_t i;
  for (i = 0; i < word->count; i++) {
    if (word->text[i] == ':') {
      word->count = i;
      return word->text + i + 1;
    }
  }
  return NULL;
}
