/* hs_board.h: what the core's parts ask of each other: pins, guards, ramps, stops, clocks, reflexes, events. */
#ifndef HS_BOARD_H
#define HS_BOARD_H

#include "hs_math.h"
#include "hs_state.h"

/* The pin that shares its copper with an analog input. */
#define HS_PIN_OF_INPUT(input) ((uint8_t)((input) + 54u))
/* Bounds of any pulse, and of a pin's that has no guard yet, in ticks. */
#define HS_TICKS_LEAST 1000u
#define HS_TICKS_MOST 5000u
#define HS_GUARD_LOW 2800u
#define HS_GUARD_HIGH 3200u
/* Top speed of a pin nobody set one for, in us per second. */
#define HS_SLEW_US_PER_S 1000u
/* How far a peck goes at most, in ticks. */
#define HS_PECK_TICKS 40u
/* Pins in one line of `where`. */
#define HS_WHERE_PINS 12u
/* Pins that one poll adds to the event `where`. */
#define HS_WHERE_PIECE 6u
/* The longest answer to `sense`, its end included. */
#define HS_SENSE_MAX 120u

/* Sets of pins, HS_PIN_BYTES bytes each. */
bool hs_set_has(const uint8_t set[HS_PIN_BYTES], uint8_t pin);
void hs_set_add(uint8_t set[HS_PIN_BYTES], uint8_t pin);
bool hs_set_is_empty(const uint8_t set[HS_PIN_BYTES]);

/* Pins (hs_pins.c). The guard that holds for a pin, in ticks. */
uint16_t hs_guard_low(const hs_core *core, uint8_t pin);
uint16_t hs_guard_high(const hs_core *core, uint8_t pin);
/* HS_FREE, HS_WAKING or HS_AWAKE. */
uint8_t hs_pin_state(const hs_core *core, uint8_t pin);
/* Gives a limp pin a slot and a turn; how many frames are to be built before the one with its first pulse. The caller
 * checked everything. */
uint8_t hs_pin_wake(hs_core *core, uint8_t pin, uint16_t ticks);
/* No more pulses; nothing happens to a limp pin. */
void hs_pin_limp(hs_core *core, uint8_t pin);
/* Every pin limp. */
void hs_pins_limp(hs_core *core);

/* Ramps (hs_ramp.c). From the present pulse to another in that many frames, at least one. */
void hs_ramp_start(hs_slot *slot, uint16_t to, uint32_t frames);
/* Stays at the present pulse. */
void hs_ramp_stop(hs_slot *slot);
/* Where a peck that begins now would go back to: the present pulse, or what a running one goes back to. */
uint16_t hs_ramp_peck_start(const hs_slot *slot);
/* One step out for that many frames, then back. */
void hs_ramp_peck(hs_slot *slot, uint16_t out, uint8_t frames);
/* Whether one frame is enough for a move of this many ticks at this top speed: a frame is a fiftieth of a second and a
 * tick half a microsecond, so a frame moves us_per_s / 25 ticks. */
static inline bool hs_ramp_is_quick(uint16_t ticks, uint32_t us_per_s) { return hs_mul(ticks, 25) <= us_per_s; }
/* Frames that a move of this many ticks takes at this top speed, or `frames` when that is more. */
uint32_t hs_ramp_frames(uint16_t ticks, uint32_t us_per_s, uint32_t frames);

/* Stops (hs_stop.c). Takes a new freeze number; by is HS_BY_*. */
void hs_freeze(hs_core *core, uint8_t by);
/* A line was damaged: counts it. True: it was the eighth within a second, and the board is to freeze. */
bool hs_noise_add(hs_core *core);
/* Whether a damaged line counted as noise within the last second. */
bool hs_noise_is_fresh(const hs_core *core);
/* A line that changes state was done. */
void hs_silence_feed(hs_core *core);
/* Freezes and makes limp when the host was silent for too long. */
void hs_silence_poll(hs_core *core, uint32_t now);

/* Reflexes (hs_trip.c). */
void hs_trip_poll(hs_core *core, uint32_t now);
/* A thaw or a wake was done: each trip may act again, its time starts anew. */
void hs_trip_rearm(hs_core *core);
/* Tells the port which inputs are watched or under trip. */
void hs_inputs_changed(hs_core *core);
/* Whether the input is watched or under trip. */
bool hs_input_is_used(const hs_core *core, uint8_t input);

/* Events (hs_event.c). Starts the events of a watch that is due; one that was missed is left out, and the beat stays. */
void hs_watch_poll(hs_core *core, uint32_t now);
/* Sends what waits, as far as there is room. */
void hs_event_poll(hs_core *core);
/* The frame just built holds this pin's first pulse. */
void hs_event_awake(hs_core *core, uint8_t pin);
/* Writes ` by=word`. */
void hs_out_by(hs_out *out, uint8_t by);
/* Closes core->out and hands it to the transmitter; the caller made sure of the room. */
void hs_send(hs_core *core);
/* Whether so many bytes fit now. */
bool hs_has_room(const hs_core *core, uint8_t bytes);
/* Writes one pin as `where` shows it. */
void hs_out_pin(hs_core *core, hs_out *out, uint8_t pin);
/* Writes the awake and waking pins from this one on, at most so many; the next one, or HS_NONE. */
uint8_t hs_out_pins(hs_core *core, hs_out *out, uint8_t from, uint8_t most);
/* Writes the counts of `sense`. */
void hs_out_counts(hs_core *core);
/* Writes one input's millivolts. */
void hs_out_input(hs_core *core, uint8_t input);
/* Writes hello's fields. */
void hs_out_hello(hs_core *core);
/* Writes ` frozen=` and the number of the freeze in force, or 0. */
void hs_out_frozen(hs_core *core, hs_out *out);

/* Now, by the port's clock. */
static inline uint32_t hs_now(const hs_core *core) { return core->hal->now_ms(core->hal->user); }

#endif
