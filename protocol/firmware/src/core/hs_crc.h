/* hs_crc.h: CRC-16/IBM-3740: polynomial 1021, initial value FFFF, nothing reflected, nothing inverted. */
#ifndef HS_CRC_H
#define HS_CRC_H

#include <stdint.h>

#include "hs_math.h"

#define HS_CRC_START 0xFFFFu

/* The value after one more byte. The polynomial has bits 12, 5 and 0, so eight steps at once are three shifted copies
 * of one byte; kept in bytes, since the chip shifts wider numbers bit by bit. */
static inline uint16_t hs_crc_add(uint16_t crc, uint8_t byte) {
  uint8_t x = (uint8_t)((crc >> 8) ^ byte);
  uint8_t high;
  uint8_t low;
  x = (uint8_t)(x ^ (x >> 4));
  /* A byte shifted by five fits 16 bits, signed or not. */
  high = (uint8_t)(crc ^ (uint8_t)(x << 4) ^ (x >> 3));
  low = (uint8_t)(x ^ (uint8_t)(x << 5));
  return (uint16_t)(hs_shl(high, 8) | low);
}

#endif
