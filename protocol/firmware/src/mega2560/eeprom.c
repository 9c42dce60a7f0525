/* eeprom.c: a ring, because a cell stands 100,000 writes (data sheet 2549): 32 records stand 3 million starts. */
#include "eeprom.h"

#include <avr/eeprom.h>
#include <avr/io.h>

#define RECORDS 32u
#define RECORD_BYTES 4u
#define RING 3960u
#define ID 4088u
#define STORE_AFTER_MS 2000u
/* The band-gap may be 9 % off, so a good 5 V reads 4550 at least. */
#define SOUND_MV 4300u

static uint16_t boot;
/* The record to write next, and how much of it is written. */
static uint8_t record;
static uint8_t written;

static uint8_t read(uint16_t address) { return eeprom_read_byte((const uint8_t *)address); }

static uint16_t address_of(uint8_t index) { return (uint16_t)(RING + RECORD_BYTES * index); }

/* Reads one record; false when its complement does not fit. */
static bool read_record(uint8_t index, uint16_t *count) {
  uint16_t at = address_of(index);
  uint8_t low = read(at), high = read((uint16_t)(at + 1u));
  *count = (uint16_t)(low | (uint16_t)high << 8);
  return (read((uint16_t)(at + 2u)) ^ low) == 0xFFu && (read((uint16_t)(at + 3u)) ^ high) == 0xFFu;
}

void hs_eeprom_start(void) {
  bool any = false;
  uint16_t newest = 0;
  for (uint8_t index = 0; index < RECORDS; index++) {
    uint16_t count;
    if (!read_record(index, &count)) continue;
    /* The ring holds at most 32 counts in a row, so the difference tells newer from older across 65535 too. */
    if (!any || (uint16_t)(count - newest) < 0x8000u) {
      newest = count;
      record = (uint8_t)((index + 1u) % RECORDS);
      any = true;
    }
  }
  boot = (uint16_t)(newest + 1u);
}

uint16_t hs_eeprom_boot(void) { return boot; }

uint32_t hs_eeprom_id(void) {
  uint32_t id = 0;
  for (uint8_t byte = 4; byte-- > 0;) {
    uint8_t value = read((uint16_t)(ID + byte));
    if ((read((uint16_t)(ID + 4u + byte)) ^ value) != 0xFFu) return 0;
    id = id << 8 | value;
  }
  return id == 0xFFFFFFFFu ? 0 : id;
}

void hs_eeprom_keep_id(uint32_t id) {
  for (uint8_t byte = 0; byte < 4; byte++) {
    uint8_t value = (uint8_t)(id >> (8u * byte));
    eeprom_update_byte((uint8_t *)(uint16_t)(ID + byte), value);
    eeprom_update_byte((uint8_t *)(uint16_t)(ID + 4u + byte), (uint8_t)(value ^ 0xFFu));
  }
}

bool hs_eeprom_supply_sound(uint16_t vcc_mv) { return vcc_mv >= SOUND_MV; }

void hs_eeprom_poll(uint32_t now_ms, uint16_t vcc_mv) {
  if (written == RECORD_BYTES || now_ms < STORE_AFTER_MS) return;
  if (!eeprom_is_ready() || !hs_eeprom_supply_sound(vcc_mv)) return;
  uint8_t value = (uint8_t)(written & 1u ? boot >> 8 : boot);
  if (written & 2u) value = (uint8_t)(value ^ 0xFFu);
  /* Ready, so this starts the write and returns; the library locks interrupts for the two stores only. */
  eeprom_write_byte((uint8_t *)(address_of(record) + written), value);
  written++;
}
