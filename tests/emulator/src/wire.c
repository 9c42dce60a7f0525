#include "wire.h"

#include <stdio.h>
#include <stdlib.h>

/* Half bits within a frame of 8N1. */
enum { START_SEEN = 1, COMPLETE = 19, FRAME = 20 };

static uint64_t cycle_at(const em_wire *wire, uint64_t half_bits) {
  return wire->start + half_bits * wire->frequency / (2 * wire->baud);
}

void em_wire_set_rate(em_wire *wire, uint64_t frequency, uint64_t baud) {
  if (wire->running) { /* the new run begins where the last frame ended at the old rate */
    wire->start = cycle_at(wire, wire->half_bits);
    wire->half_bits = 0;
  }
  wire->frequency = frequency;
  wire->baud = baud;
}

void em_wire_push(em_wire *wire, em_frame frame) {
  if (wire->count == wire->room) {
    uint32_t room = wire->room ? 2 * wire->room : 1024;
    em_frame *queue = malloc(room * sizeof *queue);
    if (queue == NULL) {
      fputs("out of memory for bytes from the host\n", stderr);
      exit(3);
    }
    for (uint32_t i = 0; i < wire->count; i++) queue[i] = wire->queue[(wire->first + i) % wire->room];
    free(wire->queue);
    wire->queue = queue;
    wire->room = room;
    wire->first = 0;
  }
  wire->queue[(wire->first + wire->count++) % wire->room] = frame;
}

uint32_t em_wire_queued(const em_wire *wire) { return wire->count; }

bool em_wire_next(em_wire *wire, uint64_t now, uint64_t *cycle) {
  if (wire->count == 0) return false;
  if (!wire->on_wire && (!wire->running || cycle_at(wire, wire->half_bits) < now)) {
    /* Was the line idle? A frame that could have begun a moment ago, within the instruction that
     * has just ended, still counts as back to back. */
    bool idle = !wire->running || cycle_at(wire, wire->half_bits) + 32 < now;
    if (idle) {
      wire->start = now;
      wire->half_bits = 0;
    }
    wire->running = true;
  }
  *cycle = cycle_at(wire, wire->half_bits + (wire->on_wire ? COMPLETE : START_SEEN));
  return true;
}

bool em_wire_step(em_wire *wire, em_frame *frame) {
  if (!wire->on_wire) {
    wire->on_wire = true;
    return false;
  }
  *frame = wire->queue[wire->first];
  wire->first = (wire->first + 1) % wire->room;
  wire->count--;
  wire->on_wire = false;
  wire->half_bits += FRAME;
  return true;
}

bool em_wire_rates_agree(double chip, double host, bool double_speed) {
  double rate = 100 * chip / host; /* the host's rate in per cent of the chip's */
  double slow = double_speed ? 96.0000 : 95.3642, fast = double_speed ? 103.9216 : 104.5752;
  return rate >= slow && rate <= fast;
}

uint8_t em_wire_sample(uint8_t byte, double sender, double receiver) {
  uint8_t seen = 0;
  for (unsigned bit = 0; bit < 8; bit++) {
    double at = (1.5 + bit) * receiver / sender;
    unsigned place = at >= 9 ? 9 : (unsigned)at; /* 0 the start bit, 9 the stop bit and idle */
    unsigned level = place == 0 ? 0 : place == 9 ? 1 : (byte >> (place - 1)) & 1u;
    seen |= (uint8_t)(level << bit);
  }
  return seen;
}
