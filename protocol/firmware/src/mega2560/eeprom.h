/* eeprom.h: what the board keeps without power: its id and the count of its starts.
 *
 * It uses bytes 3960 to 4095 (0xF78 to 0xFFF), the last 136, and no others:
 *   3960 to 4087   ring of 32 records of the start count: low byte, high byte, and the complements of both
 *   4088 to 4095   the id, lowest byte first, and its complement
 * A record whose complement does not fit (never written, or torn by a loss of power) does not count. Writing 0xFF
 * over all 136 bytes makes the board forget both. */
#ifndef HS_MEGA_EEPROM_H
#define HS_MEGA_EEPROM_H

#include <stdbool.h>
#include <stdint.h>

/* Reads what is kept. Call it first. */
void hs_eeprom_start(void);

/* The kept id, or 0 when none is kept yet. */
uint32_t hs_eeprom_id(void);

/* Keeps a newly drawn id; waits up to 30 ms, once in a board's life. */
void hs_eeprom_keep_id(uint32_t id);

/* The stored count of starts + 1: the number of this start. */
uint16_t hs_eeprom_boot(void);

/* Stores this start's number, byte by byte and without waiting: call it once a frame. It begins 2 s after the
 * start and only at a sound supply, so that a supply that keeps collapsing does not wear the memory. */
void hs_eeprom_poll(uint32_t now_ms, uint16_t vcc_mv);

/* At less than this many millivolts nothing is written. */
bool hs_eeprom_supply_sound(uint16_t vcc_mv);

#endif
