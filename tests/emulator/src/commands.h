/* The commands that arrive as text lines; README.md lists them. */
#ifndef EM_COMMANDS_H
#define EM_COMMANDS_H

#include <simavr/sim_avr.h>
#include <stdbool.h>

typedef enum em_next { EM_GO_ON, EM_QUIT, EM_CRASHED } em_next;

/* Obeys one line, without its end; stepping: `run` is allowed. A line that is not understood ends
 * the program with status 2 and a message on standard error. */
em_next em_command(avr_t *avr, char *line, bool stepping);

#endif
