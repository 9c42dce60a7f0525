/* Pin 22 toggles in a loop of known length; a timer interrupt that does nothing comes in between.
 * What the interrupt adds to one period is entry + jmp + reti. */
#include <avr/interrupt.h>
#include <avr/io.h>

ISR(TIMER1_COMPA_vect, ISR_NAKED) { __asm__ volatile("reti"); }

int main(void) {
  DDRA = 1;
  TCCR1B = _BV(WGM12) | _BV(CS10);
  OCR1A = 1236; /* 1237 cycles: prime, so that it falls on every place in the loop */
  TIMSK1 = _BV(OCIE1A);
  sei();
  __asm__ volatile(
      "ldi r24, 1\n"
      "ldi r25, 0\n"
      "again: out %[port], r24\n"
      "nop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\n"
      "out %[port], r25\n"
      "nop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\n"
      "rjmp again\n"
      :
      : [port] "I"(_SFR_IO_ADDR(PORTA))
      : "r24", "r25");
}
