/* pulse.c: edges that are exact to the cycle, on any printed pin, while bytes come and go.
 *
 * TIMER1 counts ticks of 0.5 us (clk/8) and never stops. A frame is 40000 ticks. Each of six banks has its own
 * stretch of the frame; in it the bank's pulses, shortest first, rise 250 ticks apart. So all rises come before
 * the first fall (3 * 250 < 1000), falls keep the same 250, and no two edges of a frame ever compete.
 *
 * The compare interrupt comes LEAD ticks early, since other interrupts and the main loop's locked sections may
 * delay it. It prepares the port's byte, finds the cycle at which the counter steps, counts down whole ticks and
 * stores: rises and falls by the same instruction of the same code. The frame itself ends with such an edge, on
 * a register that nothing else uses; so the clock of frames runs with no pin awake, and needs no other timer. */
#include "pulse.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#include "pins.h"

#define FRAME_TICKS 40000u
#define FRAME_MS 20u
/* First rise of the first bank, and from bank to bank: a bank is busy for 3 * 250 + 5000 ticks at most. */
#define FIRST_TICKS 500u
#define BANK_TICKS 6600u
#define GAP_TICKS 250u
/* Another lead is for the tests alone: they show that they find the edges which too short a one makes late. */
#ifndef LEAD_TICKS
#define LEAD_TICKS 48u
#endif
/* Finding the counter's step takes up to 9 * 9 cycles and some: with less than this left an edge is late. */
#define LOCK_TICKS 15u
/* The next table is built from here on: late, so that a new command goes out soon, yet early enough for received
 * lines to come in between; and from there on without a pause. See PORTING.md, "Timing". */
#define BUILD_TICKS 26000u
#define PRESSED_TICKS 30000u
#define WIDTH_LEAST 1000u
#define WIDTH_MOST 5000u
#define PER_BANK (HS_MOST / HS_BANKS)
#define EDGES (2u * HS_MOST + 1u)

/* One edge: at this tick of its frame, *port becomes (*port & keep) | set. */
typedef struct edge {
  uint16_t at;
  volatile uint8_t *port;
  uint8_t keep;
  uint8_t set;
} edge;

/* One frame's edges in order of time, the frame's end last; and where slot s's rise is, null for none. */
typedef struct table {
  edge edges[EDGES];
  edge *rise[HS_MOST];
} table;

static table tables[2];
/* The table under construction: its next bank, and where that bank's edges go. */
static uint8_t next_bank;
static edge *next_free;
/* Which table runs, whether the other one is complete, and the edge that comes next. */
static volatile uint8_t running;
static volatile bool ready;
static const edge *volatile next;
/* The running frame: TIMER1 at its start, and now_ms then. */
static volatile uint16_t frame_start;
static volatile uint32_t frame_ms;
/* Wraps at 256; the main loop adds up its steps, which keeps the interrupt short. */
static volatile uint8_t late_steps;

static void close_frame(void) {
  frame_start = (uint16_t)(frame_start + FRAME_TICKS);
  frame_ms += FRAME_MS;
  if (ready) {
    running ^= 1u;
    ready = false;
  } else {
    late_steps++;
  }
  next = tables[running].edges;
}

/* Stores value at *port at the first cycle of tick `at`, to the cycle, and returns true; or as near to it as it
 * can, and returns false, if less than LOCK_TICKS are left. Samples of the counter's low byte 9 cycles apart step
 * by 1, and by 2 exactly when the later one was taken in the first cycle of a tick. From there each turn of the
 * second loop takes 8 cycles, one tick. All paths after the lock cost the same. */
static inline __attribute__((always_inline)) bool store_at(uint16_t at, volatile uint8_t *port, uint8_t value) {
  uint8_t before, now;
  /* Unsigned, so that an edge already past counts as far too late rather than as early. */
  if ((uint16_t)(at - TCNT1 - LOCK_TICKS) > LEAD_TICKS) {
    /* If the edge is merely too near to lock on, wait for it: stored early, it would make the next edge seem due
     * and that one the next, to the end of the table. */
    while ((uint16_t)(at - TCNT1 - 1u) < LOCK_TICKS) {
    }
    *port = value;
    return false;
  }
  __asm__ volatile(
      "lds %[before], %[counter]  \n"
      "1: nop                     \n"
      "nop                        \n"
      "lds %[now], %[counter]     \n" /* 2 cycles */
      "sub %[before], %[now]      \n"
      "cpi %[before], 0xFE        \n"
      "mov %[before], %[now]      \n"
      "brne 1b                    \n" /* 2 when taken: 9 for a turn */
      "sub %[at], %[now]          \n" /* whole ticks left, at least one */
      "2: nop                     \n"
      "nop                        \n"
      "nop                        \n"
      "nop                        \n"
      "nop                        \n"
      "dec %[at]                  \n"
      "brne 2b                    \n" /* 2 when taken: 8 for a turn */
      "st %a[port], %[value]      \n"
      : [before] "=&d"(before), [now] "=&r"(now), [at] "+r"(at)
      : [counter] "n"(_SFR_MEM_ADDR(TCNT1L)), [port] "e"(port), [value] "r"(value)
      : "memory");
  return true;
}

ISR(TIMER1_COMPA_vect) {
  for (;;) {
    const edge *now = next;
    uint16_t at = (uint16_t)(frame_start + now->at);
    volatile uint8_t *port = now->port;
    uint8_t value = (uint8_t)((*port & now->keep) | now->set);
    if (!store_at(at, port, value)) late_steps++;
    if (now->at == FRAME_TICKS) {
      close_frame();
    } else {
      next = now + 1;
    }
    uint16_t alarm = (uint16_t)(frame_start + next->at - LEAD_TICKS);
    OCR1A = alarm;
    /* Already due? Both spans are counted from this edge and unsigned, so a long delay is not taken for none. */
    if ((uint16_t)(TCNT1 - at) < (uint16_t)(alarm - at)) return;
    TIFR1 = _BV(OCF1A);
  }
}

static void end_table(edge *at) {
  at->at = FRAME_TICKS;
  at->port = &GPIOR0;
  at->keep = 0;
  at->set = 0;
}

void hs_pulse_start(void) {
  end_table(tables[0].edges);
  TCCR1A = 0;
  TCCR1B = _BV(CS11);
  TCNT1 = 0;
  frame_start = 0;
  next = tables[0].edges;
  OCR1A = FRAME_TICKS - LEAD_TICKS;
  TIFR1 = _BV(OCF1A);
  TIMSK1 = _BV(OCIE1A);
}

/* Ticks since the running frame began. */
static uint16_t elapsed_ticks(void) {
  uint16_t elapsed;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { elapsed = (uint16_t)(TCNT1 - frame_start); }
  return elapsed;
}

bool hs_pulse_due(void) { return !ready && elapsed_ticks() >= BUILD_TICKS; }

bool hs_pulse_is_pressed(void) { return !ready && elapsed_ticks() >= PRESSED_TICKS; }

/* Slots of the bank that pulse in this frame, shortest first. */
static uint8_t sort_bank(uint8_t bank, const hs_slot_pulse pulses[HS_MOST], uint8_t order[PER_BANK]) {
  uint8_t count = 0;
  for (uint8_t slot = bank; slot < HS_MOST; slot = (uint8_t)(slot + HS_BANKS)) {
    uint16_t ticks = pulses[slot].ticks;
    /* The core has checked already; no mistake anywhere may put another width on a pin. */
    if (ticks < WIDTH_LEAST || ticks > WIDTH_MOST) continue;
    uint8_t place = count++;
    while (place > 0 && pulses[order[place - 1u]].ticks > ticks) {
      order[place] = order[place - 1u];
      place--;
    }
    order[place] = slot;
  }
  return count;
}

void hs_pulse_begin(void) {
  table *built = &tables[running ^ 1u];
  for (uint8_t slot = 0; slot < HS_MOST; slot++) built->rise[slot] = 0;
  next_bank = 0;
  next_free = built->edges;
}

bool hs_pulse_build_bank(const hs_slot_pulse pulses[HS_MOST]) {
  /* The running table cannot change before this one is ready. */
  table *built = &tables[running ^ 1u];
  uint8_t order[PER_BANK];
  uint8_t count = sort_bank(next_bank, pulses, order);
  uint16_t at = (uint16_t)(FIRST_TICKS + BANK_TICKS * next_bank);
  edge *rise = next_free;
  edge *fall = rise + count;
  for (uint8_t place = 0; place < count; place++) {
    uint8_t slot = order[place];
    hs_pin_place copper = hs_pins_place(pulses[slot].pin);
    built->rise[slot] = rise;
    rise->at = at;
    fall->at = (uint16_t)(at + pulses[slot].ticks);
    rise->port = fall->port = copper.port;
    rise->keep = fall->keep = (uint8_t)~copper.mask;
    rise->set = copper.mask;
    fall->set = 0;
    rise++;
    fall++;
    at = (uint16_t)(at + GAP_TICKS);
  }
  next_free = fall;
  if (++next_bank < HS_BANKS) return false;
  end_table(next_free);
  /* The table must be in memory before the interrupt is told of it. */
  __asm__ volatile("" ::: "memory");
  ready = true;
  return true;
}

/* One byte, so the interrupt sees the rise whole or not at all; one that has begun is not touched by this, and its
 * fall stands. */
static void cancel(edge *rise) {
  if (rise != 0) *(volatile uint8_t *)&rise->set = 0;
}

void hs_pulse_cancel(uint8_t slot) {
  cancel(tables[0].rise[slot]);
  cancel(tables[1].rise[slot]);
}

void hs_pulse_cancel_all(void) {
  for (uint8_t slot = 0; slot < HS_MOST; slot++) hs_pulse_cancel(slot);
}

uint32_t hs_pulse_now_ms(void) {
  uint32_t start_ms;
  uint16_t elapsed;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    elapsed = (uint16_t)(TCNT1 - frame_start);
    start_ms = frame_ms;
  }
  /* elapsed / 2000 without a division: exact up to 57,000 ticks, and a frame has 40,000. Whole bytes first, since
   * a shift by 26 would be a loop. */
  return start_ms + ((uint8_t)((uint32_t)elapsed * 33555u >> 24) >> 2);
}

uint16_t hs_pulse_ticks(void) {
  uint16_t now;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { now = TCNT1; }
  return now;
}

bool hs_pulse_has_passed(uint16_t then, uint16_t ticks) { return (uint16_t)(hs_pulse_ticks() - then) >= ticks; }

uint32_t hs_pulse_late(void) {
  static uint32_t total;
  static uint8_t seen;
  uint8_t steps = late_steps;
  total += (uint8_t)(steps - seen);
  seen = steps;
  return total;
}
