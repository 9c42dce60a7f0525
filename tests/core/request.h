/* request.h: lines taken apart into words, the judge's own way; nothing here comes from the core. */
#ifndef REQUEST_H
#define REQUEST_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The words of a line; they lie in the line that was split. */
typedef struct words {
  const char *at[160];
  size_t length[160];
  size_t count;
} words;

void words_split(const char *text, size_t count, words *w);
bool word_is(const words *w, size_t i, const char *text);

/* Numbers by the rules of PROTOCOL.md; pulses in half us, at most 30000 us. False when it is none. */
bool word_whole(const char *text, size_t count, uint32_t *value);
bool word_halves(const char *text, size_t count, uint16_t *value);
/* The same for the i-th word; false also when there is none. */
bool words_whole(const words *w, size_t i, uint32_t *value);
bool words_halves(const words *w, size_t i, uint16_t *value);
/* 0 when it is no pin. */
uint8_t word_pin(const char *text, size_t count);

/* A line from the host. */
typedef struct request {
  words w;
  /* Index of the verb; arguments follow. */
  size_t verb;
  bool is_tagged;
  /* 0 when there is none, or a malformed one. */
  uint32_t tag;
  uint16_t check;
  bool has_check;
  bool is_right;
  bool is_change;
} request;

void request_read(const uint8_t *line, size_t count, request *r);
bool request_is(const request *r, const char *verb);
size_t request_arguments(const request *r);

/* A stop for all pins that must have been carried out, whatever became of its answer. */
bool request_is_stop(const request *r, const char *verb);

#endif
