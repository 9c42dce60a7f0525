/* judge_pulses.c: what the judge demands of the pulses of each frame. */
#include <string.h>

#include "judge_parts.h"

/* A millisecond of the clock may pass between the deadline and the poll that sees it. */
#define SLACK_MS 1u

void judge_note_peck(judge *j, const request *r) {
  const words *w = &r->w;
  size_t a = r->verb + 1u;
  uint8_t pin = word_pin(w->at[a], w->length[a]);
  uint16_t outer;
  uint32_t hold_ms;
  if (pin == 0 || !words_halves(w, a + 1, &outer) || !words_whole(w, a + 2, &hold_ms) || hold_ms > 250u) {
    judge_broken(j, "a peck was done that cannot be: %.*s", (int)j->line_count, (const char *)j->line);
    return;
  }
  peck_debt *peck = &j->pecks[pin];
  if (!peck->is_owed) peck->start = j->pulse[pin];
  if (outer > peck->start + 40u || outer + 40u < peck->start)
    judge_broken(j, "a peck of pin %u from %u to %u ticks", pin, peck->start, outer);
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
  if (pulse != owed) judge_broken(j, "pin %zu pecks, has %u ticks and owes %u", pin, pulse, owed);
  if (peck->left > 0) {
    peck->left--;
  } else {
    peck->is_owed = false;
    j->pecks_paid++;
  }
}

static void spoil_frame(judge *j) {
  hs_slot_pulse *p = &j->board->pulses[j->board->frames % HS_MOST];
  if (j->fault == FAULT_PULSE_BIT && p->ticks != 0 && j->board->frames % 7 == 0) p->ticks ^= 0x400u;
  if (j->fault == FAULT_PULSE_LONG && p->ticks != 0) p->ticks = 5001;
  if (j->fault == FAULT_PULSE_UNASKED && p->ticks == 0) *p = (hs_slot_pulse){.pin = 30, .ticks = 3000};
  if (j->fault == FAULT_LIMP_UNDONE)
    for (size_t slot = 0; slot < HS_MOST; slot++)
      if (j->board->claimed[slot] == 0 && j->pulse[30] != 0)
        j->board->pulses[slot] = (hs_slot_pulse){.pin = 30, .ticks = j->pulse[30]};
}

static void first_pulse(judge *j, uint8_t pin, bool is_held) {
  uint32_t gap = j->board->frames - j->first_pulse_frame;
  if (is_held) judge_broken(j, "pin %u woke while frozen or silent", pin);
  if (j->had_first_pulse && gap < (j->fault == FAULT_WAKE_CLOSE ? 4u : 3u))
    judge_broken(j, "pin %u woke %u frames after another", pin, gap);
  j->had_first_pulse = true;
  j->first_pulse_frame = j->board->frames;
}

void judge_frame(void *watcher) {
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
      judge_broken(j, "a pulse on pin %u, slot %zu, which has pin %u", p->pin, slot, b->claimed[slot]);
      continue;
    }
    if (now[p->pin] != 0) judge_broken(j, "pin %u has two pulses in a frame", p->pin);
    now[p->pin] = p->ticks;
    if (p->ticks < 1000 || p->ticks > 5000) judge_broken(j, "a pulse of %u ticks on pin %u", p->ticks, p->pin);
    if (p->ticks < j->low[p->pin] || p->ticks > j->high[p->pin])
      judge_broken(j, "a pulse of %u ticks on pin %u, whose guard is %u to %u", p->ticks, p->pin,
                   j->low[p->pin], j->high[p->pin]);
    if (j->pulse[p->pin] == 0) first_pulse(j, p->pin, j->is_frozen || is_silent);
    else if (j->pulse[p->pin] != p->ticks && (j->is_frozen || is_silent))
      judge_broken(j, "pin %u moved from %u to %u ticks, frozen %d, silent for %u of %u ms", p->pin,
                   j->pulse[p->pin], p->ticks, j->is_frozen, silent, j->freeze_ms);
  }
  if (has_pulse && is_silent) j->silence_holds++;
  if (has_pulse && silent >= limp_ms + SLACK_MS)
    judge_broken(j, "pulses %u ms after the last feeding line, of %u", silent, j->limp_ms);
  for (size_t pin = 0; pin < 70; pin++) pay_peck(j, pin, now[pin]);
  if (awake > j->most_awake) j->most_awake = awake;
  memcpy(j->pulse, now, sizeof now);
}
