/* judge_parts.h: what the judge's own files share. */
#ifndef JUDGE_PARTS_H
#define JUDGE_PARTS_H

#include "judge.h"
#include "request.h"

/* Notes a broken promise, if it is the first. */
void judge_broken(judge *j, const char *format, ...);

/* A peck was done: from now on the pin owes it. */
void judge_note_peck(judge *j, const request *r);

/* A frame was built; watcher is the judge. */
void judge_frame(void *watcher);

#endif
