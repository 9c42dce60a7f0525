#include "judge.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check16.h"

const char *const judge_reasons[20] = {"long",   "bytes", "check",  "verb", "stale", "count",  "number", "pin",     "twice",  "input",
                                       "roster", "noisy", "frozen", "full", "limp",  "waking", "awake",  "outside", "bounds", "guard"};
const char *const judge_events[6] = {"ready", "frozen", "limp", "awake", "where", "sense"};
static const char *const frozen_by[4] = {"by=asked", "by=silence", "by=trip", "by=noisy"};

/* A millisecond of the clock may pass between the deadline and the poll that sees it. */
#define SLACK_MS 1u

static void broken(judge *j, const char *format, ...) {
  if (j->broken[0] != '\0') return;
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(j->broken, sizeof j->broken, format, arguments);
  va_end(arguments);
}

/* ---- reading words */

typedef struct words {
  const char *at[160];
  size_t length[160];
  size_t count;
} words;

static void split(const char *text, size_t count, words *w) {
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

static bool is_word(const words *w, size_t i, const char *text) {
  return i < w->count && w->length[i] == strlen(text) && memcmp(w->at[i], text, w->length[i]) == 0;
}

static bool whole(const char *text, size_t count, uint32_t *value) {
  uint64_t v = 0;
  if (count == 0 || count > 10 || (count > 1 && text[0] == '0')) return false;
  for (size_t i = 0; i < count; i++) {
    if (text[i] < '0' || text[i] > '9') return false;
    v = v * 10u + (uint64_t)(text[i] - '0');
  }
  *value = (uint32_t)v;
  return v <= UINT32_MAX;
}

static bool halves(const char *text, size_t count, uint16_t *value) {
  uint32_t v, half = 0;
  if (count > 2 && memcmp(text + count - 2, ".5", 2) == 0) {
    half = 1;
    count -= 2;
  }
  if (!whole(text, count, &v) || v > 30000u) return false;
  *value = (uint16_t)(v * 2u + half);
  return true;
}

static uint8_t pin_of(const char *text, size_t count) {
  uint32_t v;
  if (count > 1 && text[0] == 'A') return whole(text + 1, count - 1, &v) && v < 16 ? (uint8_t)(54u + v) : 0;
  return whole(text, count, &v) && v >= 2 && v <= 69 ? (uint8_t)v : 0;
}

/* ---- what the board says */

static const char *event_tail(judge *j, const words *w) {
  if (is_word(w, 1, "frozen")) {
    j->seems_frozen = true;
    for (size_t i = 0; i < 4; i++)
      if (is_word(w, 3, frozen_by[i])) return j->frozen_by[i]++, NULL;
    return "an event frozen by nobody";
  }
  if (is_word(w, 1, "limp")) {
    if (is_word(w, 2, "by=silence")) j->limp_by[0]++;
    else if (is_word(w, 2, "by=trip")) j->limp_by[1]++;
    else return "an event limp by nobody";
  }
  return NULL;
}

static void read_event(judge *j, const words *w, const char *text) {
  for (size_t i = 0; i < 6; i++) {
    if (!is_word(w, 1, judge_events[i])) continue;
    j->events[i]++;
    if (event_tail(j, w) != NULL) broken(j, "%s: %s", event_tail(j, w), text);
    return;
  }
  broken(j, "not an event of the list: %s", text);
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
    broken(j, "a line without its end");
    j->seen = b->out_count;
    return false;
  }
  size_t count = (size_t)(end - start);
  j->seen += count + 1u;
  if (count + 1u > 255u || count < 6u) {
    broken(j, "a line of %zu bytes with its end", count + 1u);
    return false;
  }
  memcpy(text, start, count);
  text[count] = '\0';
  for (size_t i = 0; i < count; i++)
    if (start[i] < 0x20 || start[i] > 0x7E) broken(j, "a byte %02X in a line", start[i]);
  char check[5];
  check16_text(check16(start, count - 5u), check);
  if (text[count - 5] != ';' || memcmp(text + count - 4, check, 4) != 0) broken(j, "a wrong check: %s", text);
  split(text, count - 5u, w);
  return true;
}

static void read_events(judge *j) {
  char text[256];
  words w;
  while (take_line(j, text, &w)) {
    if (is_word(&w, 0, "event")) read_event(j, &w, text);
    else broken(j, "nobody asked: %s", text);
    for (size_t i = 0; i < w.count; i++)
      if (w.length[i] > 2 && memcmp(w.at[i], "n=", 2) == 0) whole(w.at[i] + 2, w.length[i] - 2, &j->heard_freeze);
  }
}

/* ---- what the host said */

typedef struct request {
  words w;
  /* Index of the verb; arguments follow. */
  size_t verb;
  bool is_tagged;
  uint32_t tag;
  uint16_t check;
  bool is_right;
  bool has_check;
  bool is_change;
} request;

static size_t arguments_of(const request *r) { return r->w.count - r->verb - 1u; }

static bool verb_is(const request *r, const char *verb) { return is_word(&r->w, r->verb, verb); }

static void read_request(const uint8_t *line, size_t count, request *r) {
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
  split(text, body, &r->w);
  if (r->w.count > 0 && r->w.at[0][0] >= '0' && r->w.at[0][0] <= '9') {
    r->is_tagged = true;
    r->verb = 1;
    if (!whole(r->w.at[0], r->w.length[0], &r->tag) || r->tag > 65535u) r->tag = 0;
  }
  if (r->verb >= r->w.count) return;
  for (size_t i = 0; i < sizeof changes / sizeof *changes; i++) r->is_change = r->is_change || verb_is(r, changes[i]);
  if (verb_is(r, "guard") || verb_is(r, "slew")) r->is_change = arguments_of(r) >= 2;
  if (verb_is(r, "silence")) r->is_change = arguments_of(r) >= 1;
}

/* A stop that must have been carried out, whatever became of its answer. */
static bool is_stop(const request *r, const char *verb) {
  return verb_is(r, verb) && arguments_of(r) == 0 && (!r->is_tagged || r->tag != 0) && (r->has_check ? r->is_right : !r->is_tagged);
}

static void note_peck(judge *j, const request *r) {
  const words *w = &r->w;
  size_t a = r->verb + 1u;
  uint8_t pin = pin_of(w->at[a], w->length[a]);
  uint16_t outer;
  uint32_t hold_ms;
  if (pin == 0 || !halves(w->at[a + 1], w->length[a + 1], &outer) || !whole(w->at[a + 2], w->length[a + 2], &hold_ms) || hold_ms > 250u) {
    broken(j, "a peck was done that cannot be: %.*s", (int)j->line_count, (const char *)j->line);
    return;
  }
  peck_debt *peck = &j->pecks[pin];
  if (!peck->is_owed) peck->start = j->pulse[pin];
  if (outer > peck->start + 40u || outer + 40u < peck->start) broken(j, "a peck of pin %u from %u to %u ticks", pin, peck->start, outer);
  peck->is_owed = true;
  peck->outer = outer;
  peck->left = hold_ms < HS_FRAME_MS ? 1u : hold_ms / HS_FRAME_MS;
  if (j->fault == FAULT_PECK_SHORT) peck->left--;
}

/* The pin has this pulse in the new frame, 0 for none: does it keep what its peck promised? */
static void pay_peck(judge *j, size_t pin, uint16_t pulse) {
  peck_debt *peck = &j->pecks[pin];
  if (!peck->is_owed) return;
  if (pulse == 0) {
    peck->is_owed = false;
    return;
  }
  uint16_t owed = peck->left > 0 ? peck->outer : peck->start;
  if (pulse != owed) broken(j, "pin %zu pecks, has %u ticks and owes %u", pin, pulse, owed);
  if (peck->left > 0) {
    peck->left--;
  } else {
    peck->is_owed = false;
    j->pecks_paid++;
  }
}

/* A change was done for the first time: what it sets is now in force. */
static void note_change(judge *j, const request *r) {
  const words *w = &r->w;
  size_t a = r->verb + 1u;
  j->fed_at = j->board->now;
  if (verb_is(r, "thaw")) j->seems_frozen = false;
  if (verb_is(r, "guard") && j->fault != FAULT_GUARD_MISSED) {
    uint8_t pin = pin_of(w->at[a], w->length[a]);
    uint16_t low, high;
    if (pin == 0 || !halves(w->at[a + 1], w->length[a + 1], &low) || !halves(w->at[a + 2], w->length[a + 2], &high) ||
        low < 1000 || high > 5000 || low > high) {
      broken(j, "a guard was done that cannot be: %.*s", (int)j->line_count, (const char *)j->line);
      return;
    }
    j->low[pin] = low;
    j->high[pin] = high;
  } else if (verb_is(r, "silence")) {
    if (!whole(w->at[a], w->length[a], &j->freeze_ms) || !whole(w->at[a + 1], w->length[a + 1], &j->limp_ms) ||
        j->freeze_ms < 100 || j->freeze_ms > 2000 || j->limp_ms < j->freeze_ms || j->limp_ms > 60000)
      broken(j, "a silence was done that cannot be: %.*s", (int)j->line_count, (const char *)j->line);
  } else if (verb_is(r, "peck")) {
    note_peck(j, r);
  } else if (verb_is(r, "roster")) {
    for (size_t i = a; i < w->count; i++) j->roster[i - a] = pin_of(w->at[i], w->length[i]);
  } else if (verb_is(r, "pose")) {
    for (size_t i = a + 1u; i < w->count; i++)
      if (!is_word(w, i, "-")) j->pecks[j->roster[i - a - 1u]].is_owed = false;
  } else if (verb_is(r, "go")) {
    for (size_t i = a + 1u; i < w->count; i++) {
      const char *colon = memchr(w->at[i], ':', w->length[i]);
      if (colon != NULL) j->pecks[pin_of(w->at[i], (size_t)(colon - w->at[i]))].is_owed = false;
    }
  } else if (verb_is(r, "thaw") && j->fault != FAULT_THAW_UNSEEN) {
    j->is_frozen = false;
  }
}

/* The answer to a wake: no first pulse is promised later than 23 others, five frames each, and the last one given
 * can push it. */
static void note_wake(judge *j, const words *w, size_t at, const char *text) {
  uint32_t in_ms;
  if (at >= w->count || w->length[at] < 7 || memcmp(w->at[at], "in_ms=", 6) != 0 || !whole(w->at[at] + 6, w->length[at] - 6, &in_ms) ||
      in_ms == 0 || in_ms % HS_FRAME_MS != 0)
    broken(j, "not the answer to a wake: %s", text);
  else if (in_ms > 2360u) broken(j, "a wake after %u ms", in_ms);
  else if (in_ms > j->longest_wake) j->longest_wake = in_ms;
}

static void read_refusal(judge *j, const words *w, size_t at, const char *text) {
  for (size_t i = 0; i < 20; i++)
    if (is_word(w, at, judge_reasons[i])) {
      j->refused[i]++;
      return;
    }
  broken(j, "not a reason of the list: %s", text);
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
  if (word == 1 && !whole(w.at[0], w.length[0], &tag)) broken(j, "a tag that is none: %s", text);
  bool is_done = is_word(&w, word, "done");
  if (is_done) j->done++;
  else if (is_word(&w, word, "refused")) read_refusal(j, &w, word + 1u, text);
  else broken(j, "neither done nor refused: %s", text);
  if (word == 1 && tag != 0 && tag != r->tag) broken(j, "an answer to another tag than %u: %s", r->tag, text);
  for (size_t i = 0; i < w.count; i++)
    if (w.length[i] > 2 && memcmp(w.at[i], "n=", 2) == 0) whole(w.at[i] + 2, w.length[i] - 2, &j->heard_freeze);
  if (r->is_change && r->is_right && r->tag != 0 && !is_word(&w, word + 1u, "stale")) {
    bool is_repeat = j->last_tag == r->tag && j->last_check == r->check;
    j->last_tag = r->tag;
    j->last_check = r->check;
    if (is_done && !is_repeat) note_change(j, r);
    if (is_done && verb_is(r, "wake")) note_wake(j, &w, word + 1u, text);
  } else if (is_done && r->is_change) {
    broken(j, "a change was done without a right check or a tag: %.*s", (int)j->line_count, (const char *)j->line);
  }
  if (take_line(j, text, &w)) broken(j, "two answers to one line: %s", text);
}

static void end_line(judge *j) {
  request r;
  size_t claimed = 0;
  read_request(j->line, j->line_count, &r);
  bool is_echo = verb_is(&r, "done") || verb_is(&r, "refused") || verb_is(&r, "event");
  bool is_empty = r.w.count == 0 && !r.has_check;
  if (j->line_is_damaged || (!is_echo && !is_empty)) {
    j->lines++;
    if (j->line_is_damaged) memset(&r, 0, sizeof r);
    read_answer(j, &r);
    if (!j->line_is_damaged && is_stop(&r, "freeze")) j->is_frozen = true;
    if (!j->line_is_damaged && is_stop(&r, "limp")) {
      for (size_t slot = 0; slot < HS_MOST; slot++) claimed += j->board->claimed[slot] != 0;
      if (claimed > 0) broken(j, "%zu pins after limp", claimed);
    }
  } else if (j->seen != j->board->out_count) {
    broken(j, "an answer to an echo or an empty line: %.*s", (int)j->line_count, (const char *)j->line);
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
    if (j->fault == FAULT_ANSWER_BIT && j->bytes % 997 == 0 && j->board->out_count > j->seen) j->board->out[j->seen] ^= 1u;
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

/* ---- pulses */

static void spoil_frame(judge *j) {
  hs_slot_pulse *p = &j->board->pulses[j->board->frames % HS_MOST];
  if (j->fault == FAULT_PULSE_BIT && p->ticks != 0 && j->board->frames % 7 == 0) p->ticks ^= 0x400u;
  if (j->fault == FAULT_PULSE_LONG && p->ticks != 0) p->ticks = 5001;
  if (j->fault == FAULT_PULSE_UNASKED && p->ticks == 0) *p = (hs_slot_pulse){.pin = 30, .ticks = 3000};
  if (j->fault == FAULT_LIMP_UNDONE)
    for (size_t slot = 0; slot < HS_MOST; slot++)
      if (j->board->claimed[slot] == 0 && j->pulse[30] != 0) j->board->pulses[slot] = (hs_slot_pulse){.pin = 30, .ticks = j->pulse[30]};
}

static void first_pulse(judge *j, uint8_t pin, bool is_held) {
  uint32_t gap = j->board->frames - j->first_pulse_frame;
  if (is_held) broken(j, "pin %u woke while frozen or silent", pin);
  if (j->had_first_pulse && gap < (j->fault == FAULT_WAKE_CLOSE ? 4u : 3u)) broken(j, "pin %u woke %u frames after another", pin, gap);
  j->had_first_pulse = true;
  j->first_pulse_frame = j->board->frames;
}

static void look_at_frame(void *watcher) {
  judge *j = watcher;
  uint16_t now[70] = {0};
  board *b = j->board;
  unsigned awake = 0;
  bool has_pulse = false;
  uint32_t silent = b->now - j->fed_at;
  uint32_t freeze_ms = j->freeze_ms - (j->fault == FAULT_SILENCE_SHORT ? 40u : 0u);
  bool is_silent = silent >= freeze_ms + SLACK_MS;
  uint32_t limp_ms = j->fault == FAULT_LIMP_SHORT ? j->freeze_ms : j->limp_ms;
  spoil_frame(j);
  for (size_t slot = 0; slot < HS_MOST; slot++) {
    const hs_slot_pulse *p = &b->pulses[slot];
    awake += b->claimed[slot] != 0;
    if (p->ticks == 0) continue;
    has_pulse = true;
    j->pulses++;
    if (p->pin < 2 || p->pin > 69 || p->pin != b->claimed[slot]) {
      broken(j, "a pulse on pin %u, slot %zu, which has pin %u", p->pin, slot, b->claimed[slot]);
      continue;
    }
    if (now[p->pin] != 0) broken(j, "pin %u has two pulses in a frame", p->pin);
    now[p->pin] = p->ticks;
    if (p->ticks < 1000 || p->ticks > 5000) broken(j, "a pulse of %u ticks on pin %u", p->ticks, p->pin);
    if (p->ticks < j->low[p->pin] || p->ticks > j->high[p->pin])
      broken(j, "a pulse of %u ticks on pin %u, whose guard is %u to %u", p->ticks, p->pin, j->low[p->pin], j->high[p->pin]);
    if (j->pulse[p->pin] == 0) first_pulse(j, p->pin, j->is_frozen || is_silent);
    else if (j->pulse[p->pin] != p->ticks && (j->is_frozen || is_silent))
      broken(j, "pin %u moved from %u to %u ticks, frozen %d, silent for %u of %u ms", p->pin, j->pulse[p->pin], p->ticks, j->is_frozen, silent,
             j->freeze_ms);
  }
  if (has_pulse && is_silent) j->silence_holds++;
  if (has_pulse && silent >= limp_ms + SLACK_MS) broken(j, "pulses %u ms after the last feeding line, of %u", silent, j->limp_ms);
  for (size_t pin = 0; pin < 70; pin++) pay_peck(j, pin, now[pin]);
  if (awake > j->most_awake) j->most_awake = awake;
  memcpy(j->pulse, now, sizeof now);
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
  if (j->board->misused) broken(j, "the core called a callback with something it may not");
}

void judge_reset(judge *j) {
  j->board->on_frame = look_at_frame;
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
  if (!take_line(j, text, &w)) broken(j, "no answer to sense, with room for it");
  else if (!is_word(&w, 4, want)) broken(j, "%u answers are missing: %s", j->missing, text);
}
