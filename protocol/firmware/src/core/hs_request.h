/* hs_request.h: a line being executed: its words, why it is refused, its answer. */
#ifndef HS_REQUEST_H
#define HS_REQUEST_H

#include "hs_state.h"
#include "hs_word.h"

/* Verbs, by word and, in the same order, by number. */
#define HS_VERBS \
  "hello help where sense guard slew silence limp freeze thaw beat wake go roster pose peck watch trip"
enum {
  HS_HELLO,
  HS_HELP,
  HS_WHERE,
  HS_SENSE,
  HS_GUARD,
  HS_SLEW,
  HS_SILENCE,
  HS_LIMP,
  HS_FREEZE,
  HS_THAW,
  HS_BEAT,
  HS_WAKE,
  HS_GO,
  HS_ROSTER,
  HS_POSE,
  HS_PECK,
  HS_WATCH,
  HS_TRIP
};

/* Reasons to refuse, in the order in which they are checked and of the words in hs_request.c. */
enum {
  HS_WHY_LONG,
  HS_WHY_BYTES,
  HS_WHY_CHECK,
  HS_WHY_VERB,
  HS_WHY_STALE,
  HS_WHY_COUNT,
  HS_WHY_NUMBER,
  HS_WHY_PIN,
  HS_WHY_TWICE,
  HS_WHY_INPUT,
  HS_WHY_ROSTER,
  HS_WHY_NOISY,
  HS_WHY_FROZEN,
  HS_WHY_FULL,
  HS_WHY_LIMP,
  HS_WHY_WAKING,
  HS_WHY_AWAKE,
  HS_WHY_OUTSIDE,
  HS_WHY_BOUNDS,
  HS_WHY_GUARD,
  HS_WHY_NOT
};

/* A line being executed. Lives on the stack of hs_request_execute; its words lie in the line buffer. */
typedef struct hs_request {
  /* What is not read yet, up to a byte of 0. */
  const uint8_t *at;
  /* HS_HELLO and so on; HS_NONE: unknown. */
  uint8_t verb;
  /* Words after the verb. */
  uint8_t words;
  /* The tag; 0 when there is none or it is no tag. */
  uint16_t tag;
  /* Whether the first word begins like a tag. */
  bool is_tagged;
  /* Whether the answer says tag 0: damaged, whose line the board cannot say. */
  bool is_anybody;
  /* The first reason to refuse that was found, in the order of reasons, and the pin it is about; HS_WHY_NOT: none. */
  uint8_t why;
  uint8_t why_pin;
} hs_request;

/* Forgets the bytes of the line being received. */
void hs_line_clear(hs_line *line);

/* Executes the line that just ended and answers it. */
void hs_request_execute(hs_core *core);

/* The next word; its count is 0 at the end of the line. */
hs_word hs_request_next(hs_request *request);

/* Notes a reason to refuse. Only the one that is checked first stays, the left-most of its kind. */
void hs_request_note(hs_request *request, uint8_t why, uint8_t pin);

/* No upper bound on the words after a verb. */
#define HS_WORDS_ANY 0xFFu

/* Notes `count` when the words after the verb are fewer or more. */
void hs_request_expect(hs_request *request, uint8_t least, uint8_t most);

/* Next word as a whole number from low to high; notes `number` and gives low otherwise. */
uint32_t hs_request_whole(hs_request *request, uint32_t low, uint32_t high);

/* Next word as a pulse in ticks; notes `number`. */
uint16_t hs_request_ticks(hs_request *request);

/* Reads a pin; notes `pin`, or `twice` when its bit is already set in `seen`, and gives 0. Sets the bit. `seen` may be
 * null when there is only one pin. */
uint8_t hs_request_pin(hs_request *request, hs_word word, uint8_t seen[HS_PIN_BYTES]);

/* Next word as an input, which may be HS_NONE; notes `input` when there is none such or its pin is awake or waking, and
 * `twice` when its bit is set in `seen`. Sets the bit. `seen` may be null. */
uint8_t hs_request_input(hs_core *core, hs_request *request, uint8_t *seen);

/* The verbs, by kind. Each reads its words, notes what is wrong, and when nothing is, does its work and writes the
 * fields of its answer into core->out, which holds "tag done" already. */
void hs_verb_read(hs_core *core, hs_request *request);
void hs_verb_stop(hs_core *core, hs_request *request);
void hs_verb_set(hs_core *core, hs_request *request);
void hs_verb_move(hs_core *core, hs_request *request);

#endif
