/* Sends every byte back, by interrupts, through a ring: what a sound serial driver does. */
#include <avr/interrupt.h>
#include <avr/io.h>

static volatile uint8_t ring[256], head, tail;

ISR(USART0_RX_vect) {
  uint8_t status = UCSR0A, byte = UDR0;
  ring[head++] = status & _BV(FE0) ? '!' : byte;
  UCSR0B |= _BV(UDRIE0);
}

ISR(USART0_UDRE_vect) {
  if (head == tail)
    UCSR0B &= (uint8_t)~_BV(UDRIE0);
  else
    UDR0 = ring[tail++];
}

int main(void) {
  UBRR0 = 3;
  UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
  sei();
  for (;;) {
  }
}
