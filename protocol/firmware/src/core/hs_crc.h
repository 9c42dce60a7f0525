/* hs_crc.h: CRC-16/IBM-3740: polynomial 1021, initial value FFFF, nothing reflected, nothing inverted. */
#ifndef HS_CRC_H
#define HS_CRC_H

#include <stdint.h>

#include "hs_math.h"

#define HS_CRC_START 0xFFFFu

/* The value after one more byte. Shifts and exclusive-ors only: a table costs flash reads and is no faster here. */
static inline uint16_t hs_crc_add(uint16_t crc, uint8_t byte) {
  crc = (uint16_t)((uint16_t)(crc >> 8) | hs_shl(crc, 8));
  crc = (uint16_t)(crc ^ byte);
  crc = (uint16_t)(crc ^ (uint16_t)((crc & 0xFFu) >> 4));
  crc = (uint16_t)(crc ^ hs_shl(crc, 12));
  crc = (uint16_t)(crc ^ hs_shl((uint16_t)(crc & 0xFFu), 5));
  return crc;
}

#endif
