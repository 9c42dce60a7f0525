/* hs_line.c: gathering bytes into a line. The CRC is kept as they come, so that a line's end costs little. */
#include "hs_crc.h"
#include "hs_request.h"
#include "hs_state.h"

void hs_line_clear(hs_line *line) {
  line->count = 0;
  line->semicolon = HS_NONE;
  line->crc = HS_CRC_START;
  line->body_crc = HS_CRC_START;
  line->words = 0;
  line->body_words = 0;
  line->is_gap = true;
  line->is_long = false;
  line->is_bad = false;
}

static void end_line(hs_core *core) {
  if (core->line.count > 0 || core->line.is_bad) {
    hs_request_execute(core);
  }
  hs_line_clear(&core->line);
}

void hs_core_receive(hs_core *core, uint8_t byte) {
  hs_line *line = &core->line;
  uint8_t count = line->count;
  if (byte < ' ' || byte > '~') {
    if (byte == '\n' || byte == '\r') {
      end_line(core);
      return;
    }
    line->is_bad = true;
  }
  if (count == HS_LINE_MAX - 1u) {
    line->is_long = true;
    return;
  }
  if (byte == ';') {
    line->semicolon = count;
    line->body_crc = line->crc;
    line->body_words = line->words;
  }
  if (byte == ' ') {
    line->is_gap = true;
  } else if (line->is_gap) {
    line->is_gap = false;
    line->words++;
  }
  line->crc = hs_crc_add(line->crc, byte);
  line->bytes[count] = byte;
  line->count = (uint8_t)(count + 1u);
}

void hs_core_receive_error(hs_core *core) { core->line.is_bad = true; }
