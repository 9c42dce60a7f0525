/* hs_math.h: every product, shift and difference that could leave its type, widened first.
 *
 * `int` has 16 bits on the chip and 32 on the host, and neither compiler warns; so arithmetic on anything wider
 * than a small constant goes through one of these. */
#ifndef HS_MATH_H
#define HS_MATH_H

#include <stdbool.h>
#include <stdint.h>

/* Product of two 16-bit numbers, exact. */
static inline uint32_t hs_mul(uint16_t a, uint16_t b) { return (uint32_t)a * (uint32_t)b; }

/* Product of a 32-bit and a 16-bit number; the caller knows that it fits 32 bits. */
static inline uint32_t hs_mul32(uint32_t a, uint16_t b) { return a * (uint32_t)b; }

/* How far two numbers are apart, whichever is larger. */
static inline uint16_t hs_gap(uint16_t a, uint16_t b) { return (uint16_t)(a > b ? a - b : b - a); }

/* Milliseconds from then to now on a clock that wraps. */
static inline uint32_t hs_since(uint32_t now, uint32_t then) { return (uint32_t)(now - then); }

/* Left shift that drops what leaves 16 bits. Unsigned on both sides: `1u` has 16 bits on the chip, as the result has. */
static inline uint16_t hs_shl(uint16_t a, uint8_t bits) { return (uint16_t)((1u * a) << bits); }

/* One bit of a byte, 0 to 7. */
static inline uint8_t hs_bit(uint8_t n) { return (uint8_t)((uint16_t)1u << (n & 7u)); }

/* a + b, at most the largest 16-bit number. */
static inline uint16_t hs_add_capped(uint16_t a, uint16_t b) {
  uint32_t sum = (uint32_t)a + (uint32_t)b;
  return sum > 0xFFFFu ? 0xFFFFu : (uint16_t)sum;
}

/* The least whole number that is not below a / b; b is not 0. */
static inline uint32_t hs_div_up(uint32_t a, uint32_t b) { return a / b + (a % b != 0u ? 1u : 0u); }

/* The same in 16 bits, several times faster on the chip; a is at most 65535 - b. */
static inline uint16_t hs_div_up16(uint16_t a, uint16_t b) { return (uint16_t)((uint16_t)(a + b - 1u) / b); }

#endif
