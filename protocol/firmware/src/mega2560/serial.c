/* serial.c: two rings and two short interrupts. Every other interrupt than the edges' must end within 90 cycles,
 * or the edges' lead is used up; so counts are kept to one byte here and added up by the main loop. */
#include "serial.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#ifndef F_CPU
#define F_CPU 16000000UL
#endif

/* 256, so that one-byte indices wrap by themselves. */
static volatile uint8_t rx_ring[256];
static volatile uint8_t rx_head, rx_tail;
static volatile uint8_t lost_steps;

/* Room for an answer of 255 bytes behind two others. */
#define TX_SIZE 1024u
static volatile uint8_t tx_ring[TX_SIZE];
static volatile uint16_t tx_head, tx_tail;

void hs_serial_start(void) {
  UCSR0B = 0;
  /* Double speed first, then the rate. */
  UCSR0A = _BV(U2X0);
  UBRR0 = (uint16_t)((F_CPU + 4UL * BAUD) / (8UL * BAUD) - 1UL);
  UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
  /* With no cable the open receiver would hear noise. */
  PORTE |= _BV(PE0);
  UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}

ISR(USART0_RX_vect) {
  /* Status before data: reading the data takes both on to the next byte. */
  uint8_t status = UCSR0A;
  uint8_t byte = UDR0;
  uint8_t head = rx_head;
  if (byte < 2) byte = 2;
  if (status & (_BV(FE0) | _BV(DOR0))) {
    uint8_t mark = HS_SERIAL_DAMAGE;
    if (status & _BV(DOR0)) {
      lost_steps++;
      /* What was lost came before this byte; a line's end must stay one, or the next line would be lost too. */
      if (byte == '\n') mark = HS_SERIAL_DAMAGE_END;
    }
    byte = mark;
  }
  uint8_t after = (uint8_t)(head + 1u);
  if (after == rx_tail) {
    /* Full: the newest byte turns into damage, so that the line it belonged to cannot pass for whole. */
    rx_ring[(uint8_t)(head - 1u)] = HS_SERIAL_DAMAGE;
    lost_steps++;
  } else {
    rx_ring[head] = byte;
    rx_head = after;
  }
}

ISR(USART0_UDRE_vect) {
  uint16_t tail = tx_tail;
  UDR0 = tx_ring[tail];
  tail = (tail + 1u) & (TX_SIZE - 1u);
  tx_tail = tail;
  if (tail == tx_head) UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}

bool hs_serial_read(uint8_t *byte) {
  uint8_t tail = rx_tail;
  if (tail == rx_head) return false;
  *byte = rx_ring[tail];
  rx_tail = (uint8_t)(tail + 1u);
  return true;
}

uint16_t hs_serial_room(void) {
  uint16_t tail;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { tail = tx_tail; }
  /* One place stays empty, to tell full from empty. Only the main loop moves the head. */
  return (uint16_t)(tail - tx_head - 1u) & (TX_SIZE - 1u);
}

void hs_serial_write(const uint8_t *bytes, uint8_t count) {
  uint16_t head = tx_head;
  if (count == 0) return;
  while (count-- > 0) {
    tx_ring[head] = *bytes++;
    head = (head + 1u) & (TX_SIZE - 1u);
  }
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    tx_head = head;
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0) | _BV(UDRIE0);
  }
}

uint32_t hs_serial_overruns(void) {
  static uint32_t total;
  static uint8_t seen;
  uint8_t steps = lost_steps;
  total += (uint8_t)(steps - seen);
  seen = steps;
  return total;
}
