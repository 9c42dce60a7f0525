/* Sleeps; a timer interrupt wakes it every 1000 cycles and sets pin 22; the program clears it. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

ISR(TIMER1_COMPA_vect, ISR_NAKED) {
  __asm__ volatile("sbi %0, 0\nreti" : : "I"(_SFR_IO_ADDR(PORTA)));
}

int main(void) {
  DDRA = 1;
  TCCR1B = _BV(WGM12) | _BV(CS10);
  OCR1A = 999;
  TIMSK1 = _BV(OCIE1A);
  set_sleep_mode(SLEEP_MODE_IDLE);
  sei();
  for (;;) {
    sleep_mode();
    PORTA &= (uint8_t)~1;
  }
}
