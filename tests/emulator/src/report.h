/* Reports: one text line for each thing that happened, buffered, to one file descriptor.
 * Never blocks on purpose, never reorders: lines leave in the order in which they were made. */
#ifndef EM_REPORT_H
#define EM_REPORT_H

#include <stdint.h>

/* Opens the report stream on a descriptor; the caller keeps owning the descriptor. */
void em_report_open(int fd);

/* `WORD CYCLE\n` */
void em_report_plain(const char *word, uint64_t cycle);

/* `WORD CYCLE HH\n`: one byte in two upper-case hex digits. */
void em_report_byte(const char *word, uint64_t cycle, uint8_t byte);

/* `edge CYCLE PIN LEVEL\n` */
void em_report_edge(uint64_t cycle, unsigned pin, unsigned level);

/* `WORD CYCLE ...\n` with the rest formatted as by printf; for rare lines. */
void em_report_text(const char *word, uint64_t cycle, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Hands everything buffered to the descriptor; a reader that went away ends the program. */
void em_report_flush(void);

#endif
