/* The emulated ATmega2560 at 16 MHz: simavr with the corrections that honest figures need.
 * README.md lists them, and says which self-test holds each. */
#ifndef EM_CHIP_H
#define EM_CHIP_H

#include <simavr/sim_avr.h>
#include <stdbool.h>

#define EM_FREQUENCY 16000000u
#define EM_VECTORS 57u
#define EM_EEPROM 4096u

typedef enum em_cause { EM_POWER, EM_BROWNOUT, EM_WATCHDOG, EM_EXTERNAL, EM_CAUSES } em_cause;

/* What interrupts cost, in cycles; an entry's own five are counted. */
typedef struct em_times {
  uint64_t longest[EM_VECTORS]; /* entry to the end of RETI, nested ones included; 0: never ran */
  uint64_t longest_off;         /* interrupts switched off outside of any interrupt routine; 0 unless measured */
} em_times;

/* Loads the program and powers the chip; ends the program with a message when it cannot.
 * The seed makes the garbage that fresh RAM holds; measure_off takes twice the time and finds longest_off. */
avr_t *em_chip_start(const char *elf, uint32_t seed, bool measure_off);

/* Runs until the given cycle; false when the program on the chip crashed. */
bool em_chip_run_until(uint64_t cycle);

/* Resets the chip. cleared: a boot loader wiped the cause before the program starts.
 * hold_us: the program starts that much later, the time a boot loader takes. */
void em_chip_reset(em_cause cause, bool cleared, uint32_t hold_us);

/* From now on the program does nothing outside of its interrupts, until a reset.
 * cleared: a boot loader wipes the cause of the watchdog's reset that may follow. */
void em_chip_hang(bool cleared);

/* The cause's name in commands and reports; NULL beyond the last. */
const char *em_cause_name(em_cause cause);

/* Millivolts at analog input 0-7. */
void em_chip_input(unsigned input, uint32_t millivolts);

/* Supply and analog reference in millivolts. */
void em_chip_supply(uint32_t millivolts);

/* EEPROM to and from a file of 4096 bytes; false with errno when the file does not work. */
bool em_chip_load_eeprom(const char *path);
bool em_chip_save_eeprom(const char *path);

/* Interrupt times so far; with restart they begin anew. */
em_times em_chip_read_times(bool restart);

#endif
