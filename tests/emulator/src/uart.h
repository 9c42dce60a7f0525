/* UART0 and the wire to the host, in place of simavr's own model.
 *
 * simavr 1.6 takes 11 bit times for every frame and has a receiver of 64 bytes, so both directions
 * are modelled here after the data sheet (2549, chapter 22): 10 bit times for 8N1 at whatever rate
 * the host uses, two received bytes and a shift register, data overrun and framing error beside the
 * byte they belong to, transmit buffer and shift register. */
#ifndef EM_UART_H
#define EM_UART_H

#include <simavr/sim_avr.h>
#include <stdbool.h>

typedef struct em_uart_counts {
  uint64_t received;    /* bytes that were complete at the receiver */
  uint64_t sent;        /* bytes whose stop bit has ended */
  uint64_t overruns;    /* bytes lost because nobody read the earlier ones */
  uint64_t worst_wait;  /* cycles from complete to read, the worst byte */
  uint64_t idle;        /* cycles in which the transmitter had nothing to send, since the last reset of the counts */
} em_uart_counts;

/* Takes the registers over; host_baud in bits a second. */
void em_uart_attach(avr_t *avr, uint32_t host_baud);

/* The chip was reset: registers, buffers and both shift registers start anew; the host keeps sending. */
void em_uart_reset(void);

/* An interrupt was entered: conditions that still hold stay pending. */
void em_uart_interrupt_taken(void);

/* Changes the host's rate, for bytes that start from now on. */
void em_uart_set_baud(uint32_t host_baud);

/* Queues a byte from the host; framing_error makes its stop bit low. Bytes go back to back. */
void em_uart_send(uint8_t byte, bool framing_error);

/* Bytes queued by the host and not yet begun. */
uint32_t em_uart_queued(void);

/* Called for every byte the host received whole; for the pseudo-terminal. */
void em_uart_on_sent(void (*call)(uint8_t byte));

/* The counts so far; with restart, idle and worst_wait begin at zero again. */
em_uart_counts em_uart_read_counts(bool restart);

#endif
