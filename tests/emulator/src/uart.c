#include "uart.h"

#include <stdio.h>
#include <stdlib.h>

#include "report.h"
#include "wire.h"

/* Addresses in the data space and bits, data sheet 2549, 22.10. */
enum { UCSRA = 0xC0, UCSRB = 0xC1, UCSRC = 0xC2, UBRRL = 0xC4, UBRRH = 0xC5, UDR = 0xC6 };
enum { RXC = 0x80, TXC = 0x40, UDRE = 0x20, FE = 0x10, DOR = 0x08, U2X = 0x02, MPCM = 0x01 };
enum { RXEN = 0x10, TXEN = 0x08, FORMAT_8N1 = 0x06 };
enum { RX_VECTOR = 25, UDRE_VECTOR = 26, TX_VECTOR = 27, FIFO = 2 };

typedef struct received {
  uint8_t byte, flags;
  avr_cycle_count_t complete;
} received;

static struct {
  avr_t *avr;
  avr_int_vector_t *rx, *udre, *tx;
  em_wire wire;              /* what the host sends */
  uint32_t baud;             /* the host's */
  /* receiver */
  received fifo[FIFO];
  unsigned waiting;          /* bytes in the fifo */
  bool shift_full;           /* a third byte stands in the shift register */
  received shift;
  bool receiving;            /* the start bit of the byte on the wire was seen */
  bool lost;                 /* a byte was lost before the next one */
  avr_cycle_count_t next_event;
  bool armed;
  /* transmitter */
  bool buffer_full, shifting;
  uint8_t buffer, shifting_byte;
  avr_cycle_count_t idle_since;
  em_uart_counts counts;
  void (*on_sent)(uint8_t);
} u;

static bool set(uint16_t reg, uint8_t bit) { return (u.avr->data[reg] & bit) != 0; }

static double chip_bit_cycles(void) {
  unsigned divisor = u.avr->data[UBRRL] + 256u * (u.avr->data[UBRRH] & 15u) + 1u;
  return (double)(divisor * (set(UCSRA, U2X) ? 8u : 16u));
}

static double host_bit_cycles(void) { return (double)u.avr->frequency / (double)u.baud; }

static bool is_queued(const avr_int_vector_t *vector) {
  const avr_int_pending_t *queue = &u.avr->interrupts.pending;
  for (unsigned at = queue->read; at != queue->write; at = (at + 1) % avr_int_pending_fifo_size)
    if (queue->buffer[at] == vector) return true;
  return false;
}

/* A level interrupt: pending as long as its condition holds and it is enabled. */
static void hold(avr_int_vector_t *vector, bool condition) {
  if (!condition || !avr_regbit_get(u.avr, vector->enable)) {
    vector->pending = 0; /* its place in simavr's queue stays and is passed over at no cost */
  } else if (!vector->pending) {
    if (!is_queued(vector)) {
      avr_raise_interrupt(u.avr, vector);
    } else {
      vector->pending = 1;
      if (u.avr->sreg[S_I] && u.avr->interrupt_state == 0) u.avr->interrupt_state = 1;
      if (u.avr->state == cpu_Sleeping) u.avr->state = cpu_Running;
    }
  }
}

static void settle(void) {
  uint8_t status = u.avr->data[UCSRA] & (TXC | U2X | MPCM);
  if (u.waiting > 0) status |= RXC | u.fifo[0].flags;
  if (!u.buffer_full) status |= UDRE;
  u.avr->data[UCSRA] = status;
  hold(u.rx, u.waiting > 0);
  hold(u.udre, !u.buffer_full);
  u.avr->data[UCSRA] = status;
}

/* ---- receiver ---- */

static void accept(void) {
  if (u.waiting < FIFO && u.shift_full) {
    u.fifo[u.waiting++] = u.shift;
    u.shift_full = false;
  }
}

/* Data sheet 22.7.4: an overrun is two bytes in the buffer, one in the shift register, and a new
 * start bit. The flag stands beside the next byte that is read after the loss. */
static void start_bit(avr_cycle_count_t when) {
  u.receiving = set(UCSRB, RXEN);
  if (!u.receiving || !u.shift_full) return;
  u.shift_full = false;
  u.lost = true;
  u.counts.overruns++;
  em_report_plain("overrun", when);
}

static void stop_bit(avr_cycle_count_t when, em_frame frame) {
  if (!u.receiving || !set(UCSRB, RXEN)) return;
  u.receiving = false;
  bool damaged = frame.framing_error;
  uint8_t byte = frame.byte;
  bool known = (u.avr->data[UCSRC] & 0xFEu) == FORMAT_8N1;
  if (!known || !em_wire_rates_agree(chip_bit_cycles(), host_bit_cycles(), set(UCSRA, U2X))) {
    byte = em_wire_sample(frame.byte, host_bit_cycles(), chip_bit_cycles());
    damaged = true;
    em_report_byte("garbled", when, byte);
  } else {
    u.counts.received++;
    em_report_byte(damaged ? "rxerror" : "rx", when, byte);
  }
  u.shift = (received){byte, (uint8_t)((damaged ? FE : 0) | (u.lost ? DOR : 0)), when};
  u.shift_full = true;
  u.lost = false;
  accept();
  settle();
}

static avr_cycle_count_t wire_event(avr_t *avr, avr_cycle_count_t when, void *param) {
  (void)param;
  em_frame frame;
  if (em_wire_step(&u.wire, &frame))
    stop_bit(when, frame);
  else
    start_bit(when);
  u.armed = em_wire_next(&u.wire, avr->cycle, &u.next_event);
  return u.armed ? u.next_event : 0;
}

static void arm(void) {
  avr_cycle_count_t now = u.avr->cycle;
  if (!em_wire_next(&u.wire, now, &u.next_event)) return;
  u.armed = true;
  avr_cycle_timer_register(u.avr, u.next_event > now ? u.next_event - now : 1, wire_event, NULL);
}

/* ---- transmitter ---- */

static avr_cycle_count_t frame_sent(avr_t *avr, avr_cycle_count_t when, void *param);

static void begin_frame(avr_cycle_count_t when) {
  u.shifting = true;
  u.shifting_byte = u.buffer;
  u.buffer_full = false;
  u.avr->data[UCSRA] &= (uint8_t)~TXC;
  avr_cycle_count_t end = when + (avr_cycle_count_t)(10 * chip_bit_cycles());
  avr_cycle_timer_register(u.avr, end > u.avr->cycle ? end - u.avr->cycle : 1, frame_sent, NULL);
}

static avr_cycle_count_t frame_sent(avr_t *avr, avr_cycle_count_t when, void *param) {
  (void)param;
  u.shifting = false;
  u.counts.sent++;
  bool whole = (avr->data[UCSRC] & 0xFEu) == FORMAT_8N1 &&
               em_wire_rates_agree(chip_bit_cycles(), host_bit_cycles(), set(UCSRA, U2X));
  uint8_t seen = whole ? u.shifting_byte : em_wire_sample(u.shifting_byte, chip_bit_cycles(), host_bit_cycles());
  em_report_byte(whole ? "tx" : "txgarbled", when, seen);
  if (u.on_sent != NULL) u.on_sent(seen);
  if (u.buffer_full) {
    begin_frame(when);
  } else {
    u.idle_since = when;
    avr_raise_interrupt(avr, u.tx);
  }
  settle();
  return 0;
}

/* ---- registers ---- */

static uint8_t read_data(avr_t *avr, avr_io_addr_t address, void *param) {
  (void)param;
  if (u.waiting > 0) {
    avr_cycle_count_t wait = avr->cycle - u.fifo[0].complete;
    if (wait > u.counts.worst_wait) u.counts.worst_wait = wait;
    avr->data[address] = u.fifo[0].byte;
    u.fifo[0] = u.fifo[1];
    u.waiting--;
    accept();
    settle();
  }
  return avr->data[address];
}

static void write_data(avr_t *avr, avr_io_addr_t address, uint8_t value, void *param) {
  (void)address, (void)param;
  if (!set(UCSRB, TXEN) || u.buffer_full) return; /* 22.6.1: ignored */
  u.buffer = value;
  u.buffer_full = true;
  if (!u.shifting) {
    u.counts.idle += avr->cycle - u.idle_since;
    begin_frame(avr->cycle);
  }
  settle();
}

static uint8_t read_status(avr_t *avr, avr_io_addr_t address, void *param) {
  (void)param;
  return avr->data[address];
}

static void write_status(avr_t *avr, avr_io_addr_t address, uint8_t value, void *param) {
  (void)param;
  uint8_t kept = avr->data[address] & TXC & (uint8_t)~value;
  avr->data[address] = (uint8_t)(kept | (value & (U2X | MPCM)));
  settle();
}

static void write_control(avr_t *avr, avr_io_addr_t address, uint8_t value, void *param) {
  (void)param;
  avr->data[address] = value;
  if (!(value & RXEN)) {
    u.waiting = 0;
    u.shift_full = u.receiving = u.lost = false;
  }
  settle();
}

static void write_plain(avr_t *avr, avr_io_addr_t address, uint8_t value, void *param) {
  (void)param;
  avr->data[address] = value;
}

static void take(uint16_t address, avr_io_read_t read, avr_io_write_t write) {
  u.avr->io[AVR_DATA_TO_IO(address)].r.c = read;
  u.avr->io[AVR_DATA_TO_IO(address)].w.c = write;
}

static avr_int_vector_t *find(unsigned number) {
  for (unsigned i = 0; i < u.avr->interrupts.vector_count; i++)
    if (u.avr->interrupts.vector[i]->vector == number) return u.avr->interrupts.vector[i];
  fprintf(stderr, "this simavr has no interrupt vector %u for UART0\n", number);
  exit(3);
}

void em_uart_attach(avr_t *avr, uint32_t host_baud) {
  u.avr = avr;
  u.rx = find(RX_VECTOR);
  u.udre = find(UDRE_VECTOR);
  u.tx = find(TX_VECTOR);
  take(UDR, read_data, write_data);
  take(UCSRA, read_status, write_status);
  take(UCSRB, NULL, write_control);
  take(UCSRC, NULL, write_plain);
  take(UBRRL, NULL, write_plain);
  take(UBRRH, NULL, write_plain);
  em_uart_set_baud(host_baud);
  em_uart_reset();
}

void em_uart_reset(void) {
  u.waiting = 0;
  u.shift_full = u.receiving = u.lost = u.buffer_full = u.shifting = false;
  u.idle_since = u.avr->cycle;
  u.avr->data[UCSRA] = UDRE;
  u.avr->data[UCSRC] = FORMAT_8N1;
  if (u.armed) avr_cycle_timer_register(u.avr, u.next_event > u.avr->cycle ? u.next_event - u.avr->cycle : 1, wire_event, NULL);
}

void em_uart_interrupt_taken(void) { settle(); }

void em_uart_set_baud(uint32_t host_baud) {
  u.baud = host_baud;
  em_wire_set_rate(&u.wire, u.avr->frequency, host_baud);
}

void em_uart_send(uint8_t byte, bool framing_error) {
  em_wire_push(&u.wire, (em_frame){byte, framing_error});
  if (!u.armed) arm();
}

uint32_t em_uart_queued(void) { return em_wire_queued(&u.wire); }

void em_uart_on_sent(void (*call)(uint8_t byte)) { u.on_sent = call; }

em_uart_counts em_uart_read_counts(bool restart) {
  em_uart_counts now = u.counts;
  if (!u.shifting) now.idle += u.avr->cycle - u.idle_since;
  if (restart) {
    u.counts.idle = u.counts.worst_wait = 0;
    u.idle_since = u.avr->cycle;
  }
  return now;
}
