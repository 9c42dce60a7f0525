/* UART0 at 250000 for the little programs, without interrupts. */
#ifndef LINE_H
#define LINE_H

#include <avr/io.h>

static inline void line_start(void) {
  UCSR0A = 0;
  UBRR0 = 3; /* 250000 at 16 MHz, exact */
  UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
  UCSR0B = _BV(RXEN0) | _BV(TXEN0);
}

static inline void line_put(uint8_t byte) {
  while (!(UCSR0A & _BV(UDRE0))) {
  }
  UDR0 = byte;
}

static inline uint8_t line_get(void) {
  while (!(UCSR0A & _BV(RXC0))) {
  }
  return UDR0;
}

#endif
