; start.S: what must happen before the C start-up code clears the variables, in registers only, since no stack is
; in use yet: the reset flags are read, the watchdog is stopped, free RAM is painted.
;
; In assembler because the compiler can tell no stack use of functions without a frame.
#include <avr/io.h>

#define PAINT 0xC5

  .section .noinit,"aw",@nobits
  .global hs_start_flags
hs_start_flags: .skip 1               ; MCUSR as found
  .global hs_start_ram
hs_start_ram: .skip 4                 ; what free RAM held, folded to four bytes

  .section .init3,"ax",@progbits
  ; A boot loader may jump here with interrupts on.
  cli
  ; A watchdog that bit stays armed, with its shortest period.
  in r24, _SFR_IO_ADDR(MCUSR)
  sts hs_start_flags, r24
  ldi r24, 0
  out _SFR_IO_ADDR(MCUSR), r24
  wdr
  ldi r25, (1 << WDCE) | (1 << WDE)
  sts WDTCSR, r25
  sts WDTCSR, r24

  ldi r30, lo8(_end)
  ldi r31, hi8(_end)
  ldi r24, PAINT
  ldi r25, hi8(RAMEND + 1)
paint:
  ld r26, Z
  add r18, r26
  adc r19, r18
  adc r20, r19
  adc r21, r20
  st Z+, r24
  cpi r30, lo8(RAMEND + 1)
  cpc r31, r25
  brne paint
  sts hs_start_ram + 0, r18
  sts hs_start_ram + 1, r19
  sts hs_start_ram + 2, r20
  sts hs_start_ram + 3, r21
