/* serial_ring.h: what serial.c and serial_isr.S share; constants only, since the assembler reads it too. */
#ifndef HS_MEGA_SERIAL_RING_H
#define HS_MEGA_SERIAL_RING_H

/* Two bytes of the receive ring are marks: something was damaged or lost here; the same, and then a line ended. A
 * byte on the wire that is not above them is handed on as the next higher one: to a line, one unprintable byte is as
 * bad as another. */
#define HS_SERIAL_DAMAGE 0
#define HS_SERIAL_DAMAGE_END 1

/* One page, so that one-byte indices wrap by themselves. */
#define HS_RX_SIZE 256

/* Room for an answer of 255 bytes behind another one; whole pages of 256. */
#define HS_TX_SIZE 512

/* UCSR0B with nothing to send: receiver, transmitter and receive interrupt on. */
#define HS_SERIAL_QUIET ((1 << RXEN0) | (1 << TXEN0) | (1 << RXCIE0))

#endif
