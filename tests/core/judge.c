#include "judge.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check16.h"
#include "judge_parts.h"

const char *const judge_reasons[20] = {
    "long",   "bytes", "check",  "verb", "stale", "count",  "number", "pin",     "twice",  "input",
    "roster", "noisy", "frozen", "full", "limp",  "waking", "awake",  "outside", "bounds", "guard"};
const char *const judge_events[6] = {"ready", "frozen", "limp", "awake", "where", "sense"};
static const char *const frozen_by[4] = {"by=asked", "by=silence", "by=trip", "by=noisy"};

void judge_broken(judge *j, const char *format, ...) {
  if (j->broken[0] != '\0') return;
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(j->broken, sizeof j->broken, format, arguments);
  va_end(arguments);
}

/* ---- what the board says */

static const char *event_tail(judge *j, const words *w) {
  if (word_is(w, 1, "frozen")) {
    j->seems_frozen = true;
    for (size_t i = 0; i < 4; i++)
      if (word_is(w, 3, frozen_by[i])) return j->frozen_by[i]++, NULL;
    return "an event frozen by nobody";
  }
  if (word_is(w, 1, "limp")) {
    if (word_is(w, 2, "by=silence")) j->limp_by[0]++;
    else if (word_is(w, 2, "by=trip")) j->limp_by[1]++;
    else return "an event limp by nobody";
  }
  return NULL;
}

static void read_event(judge *j, const words *w, const char *text) {
  for (size_t i = 0; i < 6; i++) {
    if (!word_is(w, 1, judge_events[i])) continue;
    j->events[i]++;
    if (event_tail(j, w) != NULL) judge_broken(j, "%s: %s", event_tail(j, w), text);
    return;
  }
  judge_broken(j, "not an event of the list: %s", text);
}

/* Takes the next whole line the board sent; false when there is none. text needs 256 bytes. */
static bool take_line(judge *j, char *text, words *w) {
  board *b = j->board;
  if (j->seen == b->out_count) {
    b->out_count = 0;
    j->seen = 0;
    return false;
  }
  uint8_t *start = b->out + j->seen;
  uint8_t *end = memchr(start, '\n', b->out_count - j->seen);
  if (end == NULL) {
    judge_broken(j, "a line without its end");
    j->seen = b->out_count;
    return false;
  }
  size_t count = (size_t)(end - start);
  j->seen += count + 1u;
  if (count + 1u > 255u || count < 6u) {
    judge_broken(j, "a line of %zu bytes with its end", count + 1u);
    return false;
  }
  memcpy(text, start, count);
  text[count] = '\0';
  for (size_t i = 0; i < count; i++)
    if (start[i] < 0x20 || start[i] > 0x7E) judge_broken(j, "a byte %02X in a line", start[i]);
  char check[5];
  check16_text(check16(start, count - 5u), check);
  if (text[count - 5] != ';' || memcmp(text + count - 4, check, 4) != 0) judge_broken(j, "a wrong check: %s", text);
  words_split(text, count - 5u, w);
  return true;
}

static void read_events(judge *j) {
  char text[256];
  words w;
  while (take_line(j, text, &w)) {
    if (word_is(&w, 0, "event")) read_event(j, &w, text);
    else judge_broken(j, "nobody asked: %s", text);
    for (size_t i = 0; i < w.count; i++)
      if (w.length[i] > 2 && memcmp(w.at[i], "n=", 2) == 0) word_whole(w.at[i] + 2, w.length[i] - 2, &j->heard_freeze);
  }
}

/* A change was done for the first time: what it sets is now in force. */
static void note_change(judge *j, const request *r) {
  const words *w = &r->w;
  size_t a = r->verb + 1u;
  j->fed_at = j->board->now;
  if (request_is(r, "thaw")) j->seems_frozen = false;
  if (request_is(r, "guard") && j->fault != FAULT_GUARD_MISSED) {
    uint8_t pin = word_pin(w->at[a], w->length[a]);
    uint16_t low, high;
    if (pin == 0 || !words_halves(w, a + 1, &low) || !words_halves(w, a + 2, &high) ||
        low < 1000 || high > 5000 || low > high) {
      judge_broken(j, "a guard was done that cannot be: %.*s", (int)j->line_count, (const char *)j->line);
      return;
    }
    j->low[pin] = low;
    j->high[pin] = high;
  } else if (request_is(r, "silence")) {
    if (!words_whole(w, a, &j->freeze_ms) || !words_whole(w, a + 1, &j->limp_ms) ||
        j->freeze_ms < 100 || j->freeze_ms > 2000 || j->limp_ms < j->freeze_ms || j->limp_ms > 60000)
      judge_broken(j, "a silence was done that cannot be: %.*s", (int)j->line_count, (const char *)j->line);
  } else if (request_is(r, "peck")) {
    judge_note_peck(j, r);
  } else if (request_is(r, "roster")) {
    for (size_t i = a; i < w->count; i++) j->roster[i - a] = word_pin(w->at[i], w->length[i]);
  } else if (request_is(r, "pose")) {
    for (size_t i = a + 1u; i < w->count; i++)
      if (!word_is(w, i, "-")) j->pecks[j->roster[i - a - 1u]].is_owed = false;
  } else if (request_is(r, "go")) {
    for (size_t i = a + 1u; i < w->count; i++) {
      const char *colon = memchr(w->at[i], ':', w->length[i]);
      if (colon != NULL) j->pecks[word_pin(w->at[i], (size_t)(colon - w->at[i]))].is_owed = false;
    }
  } else if (request_is(r, "thaw") && j->fault != FAULT_THAW_UNSEEN) {
    j->is_frozen = false;
  }
}

/* The answer to a wake: no first pulse is promised later than 23 others, five frames each, and the last one given
 * can push it. */
static void note_wake(judge *j, const words *w, size_t at, const char *text) {
  uint32_t in_ms;
  bool is_field = at < w->count && w->length[at] > 6 && memcmp(w->at[at], "in_ms=", 6) == 0;
  if (!is_field || !word_whole(w->at[at] + 6, w->length[at] - 6, &in_ms) || in_ms == 0 || in_ms % HS_FRAME_MS != 0)
    judge_broken(j, "not the answer to a wake: %s", text);
  else if (in_ms > 2360u) judge_broken(j, "a wake after %u ms", in_ms);
  else if (in_ms > j->longest_wake) j->longest_wake = in_ms;
}

static void read_refusal(judge *j, const words *w, size_t at, const char *text) {
  for (size_t i = 0; i < 20; i++)
    if (word_is(w, at, judge_reasons[i])) {
      j->refused[i]++;
      return;
    }
  judge_broken(j, "not a reason of the list: %s", text);
}

/* Looks at the one answer that a whole line may have got. */
static void read_answer(judge *j, const request *r) {
  char text[256];
  words w;
  if (!take_line(j, text, &w)) {
    j->missing++;
    j->unanswered++;
    return;
  }
  size_t word = w.count > 0 && w.at[0][0] >= '0' && w.at[0][0] <= '9' ? 1 : 0;
  uint32_t tag = 0;
  if (word == 1 && !words_whole(&w, 0, &tag)) judge_broken(j, "a tag that is none: %s", text);
  bool is_done = word_is(&w, word, "done");
  if (is_done) j->done++;
  else if (word_is(&w, word, "refused")) read_refusal(j, &w, word + 1u, text);
  else judge_broken(j, "neither done nor refused: %s", text);
  if (word == 1 && tag != 0 && tag != r->tag) judge_broken(j, "an answer to another tag than %u: %s", r->tag, text);
  for (size_t i = 0; i < w.count; i++)
    if (w.length[i] > 2 && memcmp(w.at[i], "n=", 2) == 0) word_whole(w.at[i] + 2, w.length[i] - 2, &j->heard_freeze);
  if (r->is_change && r->is_right && r->tag != 0 && !word_is(&w, word + 1u, "stale")) {
    bool is_repeat = j->last_tag == r->tag && j->last_check == r->check;
    j->last_tag = r->tag;
    j->last_check = r->check;
    if (is_done && !is_repeat) note_change(j, r);
    if (is_done && request_is(r, "wake")) note_wake(j, &w, word + 1u, text);
  } else if (is_done && r->is_change) {
    judge_broken(j, "a change was done without a right check or a tag: %.*s", (int)j->line_count,
        (const char *)j->line);
  }
  if (take_line(j, text, &w)) judge_broken(j, "two answers to one line: %s", text);
}

static void end_line(judge *j) {
  request r;
  size_t claimed = 0;
  request_read(j->line, j->line_count, &r);
  bool is_echo = request_is(&r, "done") || request_is(&r, "refused") || request_is(&r, "event");
  bool is_empty = r.w.count == 0 && !r.has_check;
  if (j->line_is_damaged || (!is_echo && !is_empty)) {
    j->lines++;
    if (j->line_is_damaged) memset(&r, 0, sizeof r);
    read_answer(j, &r);
    if (!j->line_is_damaged && request_is_stop(&r, "freeze")) j->is_frozen = true;
    if (!j->line_is_damaged && request_is_stop(&r, "limp")) {
      for (size_t slot = 0; slot < HS_MOST; slot++) claimed += j->board->claimed[slot] != 0;
      if (claimed > 0) judge_broken(j, "%zu pins after limp", claimed);
    }
  } else if (j->seen != j->board->out_count) {
    judge_broken(j, "an answer to an echo or an empty line: %.*s", (int)j->line_count, (const char *)j->line);
  }
  j->line_count = 0;
  j->line_is_damaged = false;
}

void judge_byte(judge *j, uint8_t byte) {
  read_events(j);
  j->bytes++;
  hs_core_receive(j->board->core, byte);
  if (byte == '\n' || byte == '\r') {
    if (j->fault == FAULT_ANSWER_LOST && j->bytes % 997 == 0) j->board->out_count = j->seen;
    if (j->fault == FAULT_ANSWER_BIT && j->bytes % 997 == 0 && j->board->out_count > j->seen)
        j->board->out[j->seen] ^= 1u;
    end_line(j);
    return;
  }
  if (byte < 0x20 || byte > 0x7E || j->line_count == 254u) j->line_is_damaged = true;
  if (j->line_count < 254u) j->line[j->line_count++] = byte;
}

void judge_line_error(judge *j) {
  hs_core_receive_error(j->board->core);
  j->line_is_damaged = true;
}

void judge_tick(judge *j) {
  board_tick(j->board);
  /* A pin that went limp and woke again between two frames has a first pulse again. */
  for (size_t pin = 0; pin < 70; pin++) {
    bool has_slot = false;
    if (j->pulse[pin] == 0) continue;
    for (size_t slot = 0; slot < HS_MOST; slot++) has_slot = has_slot || j->board->claimed[slot] == pin;
    if (!has_slot && j->fault != FAULT_LIMP_UNDONE) {
      j->pulse[pin] = 0;
      j->pecks[pin].is_owed = false;
    }
  }
  read_events(j);
  if (j->board->misused) judge_broken(j, "the core called a callback with something it may not");
}

void judge_reset(judge *j) {
  j->board->on_frame = judge_frame;
  j->board->watcher = j;
  for (size_t pin = 0; pin < 70; pin++) {
    j->low[pin] = 2800;
    j->high[pin] = 3200;
    j->pulse[pin] = 0;
  }
  memset(j->pecks, 0, sizeof j->pecks);
  j->line_count = 0;
  j->line_is_damaged = false;
  j->seen = 0;
  j->had_first_pulse = false;
  j->last_tag = 0;
  j->last_check = 0;
  j->fed_at = 0;
  j->freeze_ms = 500;
  j->limp_ms = 10000;
  j->is_frozen = false;
  j->seems_frozen = false;
  j->missing = 0;
  read_events(j);
}

void judge_dropped(judge *j) {
  static const char ask[] = "\nsense\n";
  char want[32];
  char text[256];
  words w;
  for (size_t i = 0; i + 1u < sizeof ask - 1u; i++) judge_byte(j, (uint8_t)ask[i]);
  if (j->line_count != 5) return;
  read_events(j);
  hs_core_receive(j->board->core, '\n');
  j->line_count = 0;
  snprintf(want, sizeof want, "dropped=%u", j->missing);
  if (!take_line(j, text, &w)) judge_broken(j, "no answer to sense, with room for it");
  else if (!word_is(&w, 4, want)) judge_broken(j, "%u answers are missing: %s", j->missing, text);
}
