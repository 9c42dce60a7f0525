#include "request.h"

#include <string.h>

#include "check16.h"

void words_split(const char *text, size_t count, words *w) {
  size_t i = 0;
  w->count = 0;
  while (i < count && w->count < 160) {
    while (i < count && text[i] == ' ') i++;
    size_t start = i;
    while (i < count && text[i] != ' ') i++;
    if (i == start) break;
    w->at[w->count] = text + start;
    w->length[w->count++] = i - start;
  }
}

bool word_is(const words *w, size_t i, const char *text) {
  return i < w->count && w->length[i] == strlen(text) && memcmp(w->at[i], text, w->length[i]) == 0;
}

bool word_whole(const char *text, size_t count, uint32_t *value) {
  uint64_t v = 0;
  if (count == 0 || count > 10 || (count > 1 && text[0] == '0')) return false;
  for (size_t i = 0; i < count; i++) {
    if (text[i] < '0' || text[i] > '9') return false;
    v = v * 10u + (uint64_t)(text[i] - '0');
  }
  *value = (uint32_t)v;
  return v <= UINT32_MAX;
}

bool word_halves(const char *text, size_t count, uint16_t *value) {
  uint32_t v, half = 0;
  if (count > 2 && memcmp(text + count - 2, ".5", 2) == 0) {
    half = 1;
    count -= 2;
  }
  if (!word_whole(text, count, &v) || v > 30000u) return false;
  *value = (uint16_t)(v * 2u + half);
  return true;
}

bool words_whole(const words *w, size_t i, uint32_t *value) {
  return i < w->count && word_whole(w->at[i], w->length[i], value);
}

bool words_halves(const words *w, size_t i, uint16_t *value) {
  return i < w->count && word_halves(w->at[i], w->length[i], value);
}

uint8_t word_pin(const char *text, size_t count) {
  uint32_t v;
  if (count > 1 && text[0] == 'A') return word_whole(text + 1, count - 1, &v) && v < 16 ? (uint8_t)(54u + v) : 0;
  return word_whole(text, count, &v) && v >= 2 && v <= 69 ? (uint8_t)v : 0;
}

size_t request_arguments(const request *r) { return r->w.count - r->verb - 1u; }

bool request_is(const request *r, const char *verb) { return word_is(&r->w, r->verb, verb); }

void request_read(const uint8_t *line, size_t count, request *r) {
  static const char *const changes[] = {"thaw", "beat", "wake", "go", "roster", "pose", "peck", "watch", "trip"};
  const char *text = (const char *)line;
  size_t body = count;
  memset(r, 0, sizeof *r);
  for (size_t i = 0; i < count; i++)
    if (line[i] == ';') body = i, r->has_check = true;
  r->check = check16(line, body);
  if (r->has_check && count - body == 5) {
    char check[5];
    check16_text(r->check, check);
    r->is_right = memcmp(check, text + body + 1, 4) == 0;
  }
  words_split(text, body, &r->w);
  if (r->w.count > 0 && r->w.at[0][0] >= '0' && r->w.at[0][0] <= '9') {
    r->is_tagged = true;
    r->verb = 1;
    if (!word_whole(r->w.at[0], r->w.length[0], &r->tag) || r->tag > 65535u) r->tag = 0;
  }
  if (r->verb >= r->w.count) return;
  for (size_t i = 0; i < sizeof changes / sizeof *changes; i++) r->is_change = r->is_change || request_is(r,
      changes[i]);
  if (request_is(r, "guard") || request_is(r, "slew")) r->is_change = request_arguments(r) >= 2;
  if (request_is(r, "silence")) r->is_change = request_arguments(r) >= 1;
}

bool request_is_stop(const request *r, const char *verb) {
  return request_is(r, verb) && request_arguments(r) == 0 && (!r->is_tagged || r->tag != 0) && (r->has_check
      ? r->is_right : !r->is_tagged);
}
