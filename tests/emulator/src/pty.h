/* Real time on a pseudo-terminal: UART0 is bridged to it, as a USB serial adapter would. */
#ifndef EM_PTY_H
#define EM_PTY_H

#include <simavr/sim_avr.h>
#include <stdbool.h>

typedef struct em_pty_options {
  bool follow_rate;      /* the host's rate is what the program that opened the tty has set */
  bool reset_on_open;    /* opening the tty resets the chip, as the modem line does on most boards */
  bool shares_clock;     /* a host lives by the chip's clock: see clock.h */
  uint32_t pace;         /* how many times as fast as the clock on the wall the chip's time runs at most */
  uint32_t loader_us;    /* how long a boot loader then keeps the program from starting */
} em_pty_options;

/* Prints `tty PATH` on standard output, then runs in real time, or `pace` times as fast, until `quit`, the end of standard
 * input or a signal. Returns the program's exit status. */
int em_pty_run(avr_t *avr, em_pty_options options);

/* Set by a signal; the loop then ends in good order. */
extern volatile bool em_pty_stop;

/* The rate that was set on the terminal, from its master's side; 0 when it cannot be read. */
uint32_t em_tty_rate(int master);

#endif
