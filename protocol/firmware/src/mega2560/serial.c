/* serial.c: two rings; serial_isr.S fills the one and empties the other. Every interrupt but the edges' must end
 * within 90 cycles; so counts are kept to one byte there and added up here, by the main loop. */
#include "serial.h"

#include <avr/io.h>
#include <util/atomic.h>

#ifndef F_CPU
#define F_CPU 16000000UL
#endif

/* Both rings in one piece, which begins at a multiple of 256 as the interrupts expect: they build addresses from a
 * page and a low byte. First receive, then transmit. All of this is shared with serial_isr.S and with nobody else. */
volatile uint8_t hs_serial_rings[HS_RX_SIZE + HS_TX_SIZE] __attribute__((aligned(256)));
/* Receive: one-byte indices that wrap by themselves; equal when empty. */
volatile uint8_t hs_rx_head, hs_rx_tail;
/* Times that bytes were lost; wraps. */
volatile uint8_t hs_rx_lost;
/* Transmit: pointers into its ring; equal when empty. */
#define TX_RING (hs_serial_rings + HS_RX_SIZE)
volatile uint8_t *volatile hs_tx_head = TX_RING;
volatile uint8_t *volatile hs_tx_tail = TX_RING;

void hs_serial_start(void) {
  UCSR0B = 0;
  /* Double speed first, then the rate. */
  UCSR0A = _BV(U2X0);
  UBRR0 = (uint16_t)((F_CPU + 4UL * BAUD) / (8UL * BAUD) - 1UL);
  UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
  /* With no cable the open receiver would hear noise. */
  PORTE |= _BV(PE0);
  UCSR0B = HS_SERIAL_QUIET;
}

uint8_t hs_serial_read(uint8_t *bytes, uint8_t most) {
  uint8_t tail = hs_rx_tail;
  uint8_t head = hs_rx_head;
  uint8_t count = 0;
  while (tail != head && count < most) {
    uint8_t byte = hs_serial_rings[tail++];
    bytes[count++] = byte;
    if (byte <= '\r') break;
  }
  hs_rx_tail = tail;
  return count;
}

uint16_t hs_serial_room(void) {
  volatile uint8_t *tail;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { tail = hs_tx_tail; }
  /* One place stays empty, to tell full from empty. Only the main loop moves the head. */
  return (uint16_t)((uint16_t)tail - (uint16_t)hs_tx_head - 1u) & (HS_TX_SIZE - 1u);
}

void hs_serial_write(const uint8_t *bytes, uint8_t count) {
  volatile uint8_t *head = hs_tx_head;
  if (count == 0) return;
  while (count-- > 0) {
    *head++ = *bytes++;
    if (head == TX_RING + HS_TX_SIZE) head = TX_RING;
  }
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    hs_tx_head = head;
    UCSR0B = HS_SERIAL_QUIET | _BV(UDRIE0);
  }
}

uint32_t hs_serial_overruns(void) {
  static uint32_t total;
  static uint8_t seen;
  uint8_t steps = hs_rx_lost;
  total += (uint8_t)(steps - seen);
  seen = steps;
  return total;
}
