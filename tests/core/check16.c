#include "check16.h"

#include <stdbool.h>

uint16_t check16(const uint8_t *bytes, size_t count) {
  uint32_t crc = 0xFFFFu;
  for (size_t i = 0; i < count; i++) {
    crc ^= (uint32_t)bytes[i] << 8;
    for (int bit = 0; bit < 8; bit++) {
      bool is_set = (crc & 0x8000u) != 0;
      crc = (crc << 1) & 0xFFFFu;
      if (is_set) crc ^= 0x1021u;
    }
  }
  return (uint16_t)crc;
}

void check16_text(uint16_t check, char text[5]) {
  static const char digits[] = "0123456789ABCDEF";
  for (unsigned i = 0; i < 4; i++) text[i] = digits[((unsigned)check >> (12u - 4u * i)) & 0xFu];
  text[4] = '\0';
}
