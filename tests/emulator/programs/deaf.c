/* Known wrong: echoes by interrupt, but a timer interrupt of 2500 cycles keeps the receiver waiting,
 * longer than two bytes and the shift register last at 250000. Pin 22 is high while it does. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/delay.h>

static volatile uint8_t ring[256], head, tail;

ISR(USART0_RX_vect) {
  ring[head++] = UDR0;
  UCSR0B |= _BV(UDRIE0);
}

ISR(USART0_UDRE_vect) {
  if (head == tail)
    UCSR0B &= (uint8_t)~_BV(UDRIE0);
  else
    UDR0 = ring[tail++];
}

ISR(TIMER1_COMPA_vect) {
  PORTA |= 1;
  _delay_us(2500.0 / 16);
  PORTA &= (uint8_t)~1;
}

int main(void) {
  DDRA = 1;
  UBRR0 = 3;
  UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
  TCCR1B = _BV(WGM12) | _BV(CS10);
  OCR1A = 15999;
  TIMSK1 = _BV(OCIE1A);
  sei();
  for (;;) {
  }
}
