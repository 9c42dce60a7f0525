/* hs_core.h: everything a port or a host program needs of the firmware core.
 *
 * The core reads lines, keeps guards, ramps, freezes and clocks, and says which pulse each pin gets in the
 * next frame. It never touches hardware, never waits, keeps nothing outside the context its caller owns, and
 * is called from one place only: the main loop, or one thread. */
#ifndef HS_CORE_H
#define HS_CORE_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Pin numbers run from 0 to HS_PINS - 1; 0 and 1 are the serial link, legal are 2 to 69. */
#define HS_PINS 70u
/* Slots: pins awake or waking at once. Slot s belongs to bank s % HS_BANKS from wake to limp. */
#define HS_MOST 24u
/* Banks of pulses within one frame. */
#define HS_BANKS 6u
/* Bytes of the longest line, its end included, both ways. */
#define HS_LINE_MAX 255u
/* Analog inputs a0 to a7. */
#define HS_INPUTS 8u
/* Frame period in milliseconds, and the pulse's unit: ticks of half a microsecond in one microsecond. */
#define HS_FRAME_MS 20u
#define HS_TICKS_PER_US 2u

/* Why the chip started: hs_identity.cause. */
#define HS_CAUSE_UNKNOWN 0u
#define HS_CAUSE_POWER 1u
#define HS_CAUSE_BROWNOUT 2u
#define HS_CAUSE_WATCHDOG 3u
#define HS_CAUSE_EXTERNAL 4u

/* The context; its body stands in hs_state.h for C programs that place it statically. */
typedef struct hs_core hs_core;

/* The hardware. Owned by the caller, constant, and kept by the core for its whole life.
 * Every callback returns at once; none may call back into the core. */
typedef struct hs_hal {
  /* Handed back as the first argument of each callback; the core never looks at it. */
  void *user;
  /* Milliseconds since start; wraps at 32 bits. */
  uint32_t (*now_ms)(void *user);
  /* Bytes that the transmitter takes now without waiting. A port that never reaches HS_LINE_MAX never
   * answers a read. */
  uint16_t (*tx_room)(void *user);
  /* Takes count bytes; called only with count <= what tx_room just returned. */
  void (*tx_write)(void *user, const uint8_t *bytes, uint8_t count);
  /* The slot now belongs to this pin: make it a low output. Pulses follow by hs_core_frame. */
  void (*pin_wake)(void *user, uint8_t slot, uint8_t pin);
  /* No more pulses on this slot: cancel every rise not yet begun in every table already built; a pulse that
   * runs ends at its own width; then the pin stays a low output. */
  void (*pin_limp)(void *user, uint8_t slot, uint8_t pin);
  /* Millivolts at analog input 0 to 7. */
  uint16_t (*input_mv)(void *user, uint8_t input);
  /* Millivolts of the logic supply; good for change, not for absolute. */
  uint16_t (*vcc_mv)(void *user);
  /* Edges placed late, and bytes the receiver lost, since start. */
  uint32_t (*late)(void *user);
  uint32_t (*overruns)(void *user);
  /* Bytes of stack that were never used since start. */
  uint16_t (*stack)(void *user);
  /* Which inputs are watched or under trip: bit n is input n. The port makes their pins inputs without pull-up and
   * keeps their readings fresh. Called when a watch or a trip was set or removed. */
  void (*inputs_used)(void *user, uint8_t mask);
} hs_hal;

/* Who this board is. The strings lie in RAM, are printable ASCII without space or ';', are owned by the
 * caller and kept; each at most 24 bytes. */
typedef struct hs_identity {
  /* The firmware's version. */
  const char *fw;
  /* The chip. */
  const char *board;
  /* Drawn once for each board and kept by it; printed as eight hex digits. */
  uint32_t id;
  /* Starts counted, this one included. */
  uint16_t boot;
  /* One of HS_CAUSE_*. */
  uint8_t cause;
} hs_identity;

/* What one slot does in one frame. */
typedef struct hs_slot_pulse {
  /* The slot's pin, 2 to 69; 0 for a slot without a pin. */
  uint8_t pin;
  /* Pulse width in ticks of 0.5 us, 1000 to 5000; 0: no pulse in this frame. */
  uint16_t ticks;
} hs_slot_pulse;

/* Bytes of memory the context needs, and its alignment. */
size_t hs_core_size(void);
size_t hs_core_align(void);

/* Makes a context in memory of that size and alignment, owned by the caller and used until the next init.
 * Every pin is limp and without a guard; the event `ready` waits for room. */
hs_core *hs_core_init(void *memory, const hs_hal *hal, const hs_identity *identity);

/* One byte from the host; executes the line when its end arrives. */
void hs_core_receive(hs_core *core, uint8_t byte);

/* A framing error, or a byte that the receiver lost: the line being received counts as damaged. */
void hs_core_receive_error(hs_core *core);

/* Silence, trips, watches, events that wait for room. Call it as often as possible, at least each ms. */
void hs_core_poll(hs_core *core);

/* The pulses of the next frame, slot by slot; advances every ramp by one frame. Called exactly once for each
 * frame, when its table is about to be built, at least 2 ms before it begins. */
void hs_core_frame(hs_core *core, hs_slot_pulse out[HS_MOST]);

#ifdef __cplusplus
}
#endif

#endif
