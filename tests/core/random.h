/* random.h: numbers that look random and come again with the same seed (splitmix64, public domain by its author
 * Sebastiano Vigna). */
#ifndef RANDOM_H
#define RANDOM_H

#include <stdbool.h>
#include <stdint.h>

typedef struct random_source {
  uint64_t state;
} random_source;

static inline uint32_t random_bits(random_source *r) {
  uint64_t z = (r->state += UINT64_C(0x9E3779B97F4A7C15));
  z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
  z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
  return (uint32_t)((z ^ (z >> 31)) >> 32);
}

/* 0 to below - 1. */
static inline uint32_t random_below(random_source *r, uint32_t below) { return random_bits(r) % below; }

/* least to most, both included. */
static inline uint32_t random_from(random_source *r, uint32_t least, uint32_t most) {
  return least + random_below(r, most - least + 1u);
}

static inline bool random_percent(random_source *r, uint32_t percent) { return random_below(r, 100) < percent; }

#endif
