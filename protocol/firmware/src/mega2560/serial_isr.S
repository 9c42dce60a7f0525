; serial_isr.S: the two serial interrupts. They run up to 50,000 times a second; in C each would cost 25 cycles more,
; 8 % of the chip with both directions busy. Either must end within 90 cycles, or the edges' lead is used up
; (pulse.c). They need no zero register and no frame; Z reaches all of RAM without RAMPZ.
;
; serial.c owns the rings and says what is in them.
#include <avr/io.h>

#include "serial_ring.h"

  .text

; 56 cycles, entry and jump included.
  .global USART0_RX_vect
USART0_RX_vect:
  push r24
  push r25
  push r30
  push r31
  in r24, _SFR_IO_ADDR(SREG)
  push r24
  ; Status before data: reading the data takes both on to the next byte.
  lds r25, UCSR0A
  lds r24, UDR0
  lds r30, hs_rx_head
  andi r25, (1 << FE0) | (1 << DOR0)
  brne damaged
  cpi r24, HS_SERIAL_DAMAGE_END + 1
  brsh keep
  ldi r24, HS_SERIAL_DAMAGE_END + 1
keep:
  ; The place at the head is never in use, so writing there does no harm even when the ring is full.
  ldi r31, hi8(hs_serial_rings)
  st Z, r24
  inc r30
  lds r24, hs_rx_tail
  cp r30, r24
  breq full
  sts hs_rx_head, r30
rx_done:
  pop r24
  out _SFR_IO_ADDR(SREG), r24
  pop r31
  pop r30
  pop r25
  pop r24
  reti

damaged:
  sbrs r25, DOR0
  rjmp mark
  ; Bytes were lost before this one, which itself may be a line's end; that must stay one, or the next line would be
  ; lost too.
  lds r25, hs_rx_lost
  inc r25
  sts hs_rx_lost, r25
  ldi r25, HS_SERIAL_DAMAGE_END
  cpi r24, '\n'
  breq mark_end
mark:
  ldi r25, HS_SERIAL_DAMAGE
mark_end:
  mov r24, r25
  rjmp keep

full:
  ; The newest byte in the ring turns into damage, so that the line it belonged to cannot pass for whole.
  subi r30, 2
  ldi r24, HS_SERIAL_DAMAGE
  st Z, r24
  lds r24, hs_rx_lost
  inc r24
  sts hs_rx_lost, r24
  rjmp rx_done

; 54 cycles, entry and jump included.
  .global USART0_UDRE_vect
USART0_UDRE_vect:
  push r24
  push r30
  push r31
  in r24, _SFR_IO_ADDR(SREG)
  push r24
  lds r30, hs_tx_tail
  lds r31, hs_tx_tail + 1
  ld r24, Z+
  sts UDR0, r24
  cpi r31, hi8(hs_serial_rings + HS_RX_SIZE + HS_TX_SIZE)
  brne no_wrap
  ldi r31, hi8(hs_serial_rings + HS_RX_SIZE)
no_wrap:
  sts hs_tx_tail, r30
  sts hs_tx_tail + 1, r31
  lds r24, hs_tx_head
  cp r30, r24
  lds r24, hs_tx_head + 1
  cpc r31, r24
  brne tx_done
  ; Empty: no more of these until something is queued.
  ldi r24, HS_SERIAL_QUIET
  sts UCSR0B, r24
tx_done:
  pop r24
  out _SFR_IO_ADDR(SREG), r24
  pop r31
  pop r30
  pop r24
  reti
