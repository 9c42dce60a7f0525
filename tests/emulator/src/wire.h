/* The line from the host: frames of ten bit times, back to back, at any rate.
 * Pure: knows bytes, rates and cycles, nothing of the emulated chip. */
#ifndef EM_WIRE_H
#define EM_WIRE_H

#include <stdbool.h>
#include <stdint.h>

typedef struct em_frame {
  uint8_t byte;
  bool framing_error; /* the stop bit is low */
} em_frame;

typedef struct em_wire {
  uint64_t frequency, baud; /* cycles and bits a second */
  uint64_t start;           /* cycle at which the present run of frames began */
  uint64_t half_bits;       /* start of the present frame, in half bits from there */
  bool on_wire;             /* the start bit of the present frame was reported */
  bool running;             /* there is a present run */
  em_frame *queue;          /* grows; owned here */
  uint32_t room, first, count;
} em_wire;

/* New rate, for frames that start from now on. */
void em_wire_set_rate(em_wire *wire, uint64_t frequency, uint64_t baud);

void em_wire_push(em_wire *wire, em_frame frame);
uint32_t em_wire_queued(const em_wire *wire);

/* When the next thing happens at the receiver: the start bit is recognised half a bit after its
 * edge, the frame is complete in the middle of its stop bit. False: nothing is queued. */
bool em_wire_next(em_wire *wire, uint64_t now, uint64_t *cycle);

/* That thing has happened. True: a frame is complete, and it is given. False: it was a start bit. */
bool em_wire_step(em_wire *wire, em_frame *frame);

/* Whether a receiver understands a sender: within the greatest total error for 8 data bits,
 * tests/data/uart_tolerance.csv, from data sheet 2549 tables 22-2 and 22-3. */
bool em_wire_rates_agree(double chip_bit_cycles, double host_bit_cycles, bool double_speed);

/* The byte that a receiver with another rate makes of one frame, sampled in the middle of its bits. */
uint8_t em_wire_sample(uint8_t byte, double sender_bit_cycles, double receiver_bit_cycles);

#endif
