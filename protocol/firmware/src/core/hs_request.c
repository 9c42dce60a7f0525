/* hs_request.c: from a received line to its answer: echo, damage, check, verb, tag, work, memory. */
#include "hs_request.h"

#include "hs_board.h"

/* The reasons' words, in the order of their numbers. */
#define REASONS                                                                                                   \
  "long bytes check verb stale count number pin twice input roster noisy frozen full limp waking awake outside " \
  "bounds guard"

/* What a verb does; with which arguments decides for some. */
enum { KIND_UNKNOWN, KIND_READ, KIND_STOP, KIND_SET, KIND_MOVE };

/* A line that the board itself could have sent: a loop or a local echo, not a request. */
static bool is_echo(hs_request request) {
  hs_word word = hs_request_next(&request);
  if (hs_word_is_number_like(word)) {
    word = hs_request_next(&request);
  }
  return word.count > 0 && hs_word_find(word, HS_TEXT("done refused event")) != HS_NONE;
}

/* Whether what follows the semicolon is the line's check. */
static bool is_check_right(const hs_line *line) {
  uint8_t at = line->semicolon;
  uint16_t check = 0;
  if ((uint8_t)(line->count - at) != 5) {
    return false;
  }
  for (at++; at < line->count; at++) {
    uint8_t byte = line->bytes[at];
    uint8_t nibble;
    if (byte >= '0' && byte <= '9') {
      nibble = (uint8_t)(byte - '0');
    } else if (byte >= 'A' && byte <= 'F') {
      nibble = (uint8_t)(byte - 'A' + 10);
    } else {
      return false;
    }
    check = (uint16_t)(hs_shl(check, 4) | nibble);
  }
  return check == line->body_crc;
}

static uint8_t kind_of(const hs_request *request) {
  switch (request->verb) {
    case HS_HELLO:
    case HS_HELP:
    case HS_WHERE:
    case HS_SENSE:
      return KIND_READ;
    case HS_GUARD:
    case HS_SLEW:
      return request->words < 2 ? KIND_READ : KIND_SET;
    case HS_SILENCE:
      return request->words < 1 ? KIND_READ : KIND_SET;
    case HS_LIMP:
    case HS_FREEZE:
      return KIND_STOP;
    case HS_THAW:
    case HS_BEAT:
    case HS_ROSTER:
    case HS_WATCH:
    case HS_TRIP:
      return KIND_SET;
    case HS_WAKE:
    case HS_GO:
    case HS_POSE:
    case HS_PECK:
      return KIND_MOVE;
    default:
      return KIND_UNKNOWN;
  }
}

/* Bytes that the longest answer to this verb takes, its end included. */
static uint8_t room_for(uint8_t verb) {
  switch (verb) {
    case HS_HELLO:
    case HS_HELP:
    case HS_WHERE:
      return HS_LINE_MAX;
    case HS_SENSE:
      return HS_SENSE_MAX;
    default:
      return HS_SHORT_MAX;
  }
}

/* Begins an answer: the tag where one is due, and its next word. */
static void begin(hs_core *core, const hs_request *request, const hs_text *word) {
  hs_out_clear(&core->out);
  if (request->tag != 0 || request->is_anybody) {
    hs_out_whole(&core->out, request->is_anybody ? 0u : request->tag);
    hs_out_byte(&core->out, ' ');
  }
  hs_out_text(&core->out, word);
}

/* Composes the refusal that was noted. */
static void refuse(hs_core *core, const hs_request *request) {
  hs_out *out = &core->out;
  uint8_t pin = request->why_pin;
  begin(core, request, HS_TEXT("refused "));
  hs_out_word(out, HS_TEXT(REASONS), request->why);
  switch (request->why) {
    case HS_WHY_STALE:
      hs_out_field(out, HS_TEXT(" last="), core->last);
      break;
    case HS_WHY_ROSTER:
      hs_out_field(out, HS_TEXT(" pins="), core->roster_count);
      break;
    case HS_WHY_FROZEN:
      hs_out_field(out, HS_TEXT(" n="), core->freezes);
      break;
    case HS_WHY_LIMP:
    case HS_WHY_WAKING:
    case HS_WHY_AWAKE:
      hs_out_field(out, HS_TEXT(" pin="), pin);
      break;
    case HS_WHY_GUARD:
      hs_out_field(out, HS_TEXT(" pin="), pin);
      hs_out_text(out, HS_TEXT(" low="));
      hs_out_ticks(out, hs_guard_low(core, pin));
      hs_out_text(out, HS_TEXT(" high="));
      hs_out_ticks(out, hs_guard_high(core, pin));
      break;
    default:
      break;
  }
}

/* A damaged line: counts it, answers it, and only then freezes when it was one too many. */
static void answer_damage(hs_core *core, hs_request *request, uint8_t why) {
  bool is_too_noisy = hs_noise_add(core);
  request->why = why;
  if (hs_has_room(core, HS_SHORT_MAX)) {
    refuse(core, request);
    hs_send(core);
  } else {
    core->dropped++;
  }
  if (is_too_noisy) {
    hs_freeze(core, HS_BY_NOISY);
  }
}

/* Reads the tag and the verb of a body of so many words. A first word that begins like a tag and is none is noted. */
static void read_head(hs_request *request, uint8_t words) {
  hs_word word = hs_request_next(request);
  uint32_t tag = 0;
  request->is_tagged = hs_word_is_number_like(word);
  if (request->is_tagged) {
    if (!hs_word_whole(word, &tag) || tag < 1u || tag > 65535u) {
      hs_request_note(request, HS_WHY_NUMBER, 0);
      tag = 0;
    }
    words--;
    word = hs_request_next(request);
  }
  request->tag = (uint16_t)tag;
  request->verb = word.count > 0 ? hs_word_find(word, HS_TEXT(HS_VERBS)) : HS_NONE;
  request->words = (uint8_t)(words > 0 ? words - 1u : 0u);
}

/* Does the work, or finds why not; core->out holds the answer afterwards, without its check. */
static void work(hs_core *core, hs_request *request, uint8_t kind) {
  begin(core, request, HS_TEXT("done"));
  switch (kind) {
    case KIND_READ:
      hs_verb_read(core, request);
      break;
    case KIND_STOP:
      hs_verb_stop(core, request);
      break;
    case KIND_SET:
      hs_verb_set(core, request);
      break;
    case KIND_MOVE:
      hs_verb_move(core, request);
      break;
    default:
      hs_request_note(request, HS_WHY_VERB, 0);
      break;
  }
  if (request->why != HS_WHY_NOT) {
    refuse(core, request);
  }
}

/* A tagged line that changes state, its check right: repeat, stale, or new. */
static void change(hs_core *core, hs_request *request, uint8_t kind) {
  uint16_t check = core->line.body_crc;
  uint8_t i;
  bool has_tag = request->tag != 0;
  if (has_tag && core->last != 0) {
    /* How much newer the tag is; tags count from 1 to 65535, so they wrap at 65535. */
    uint32_t newer = (uint32_t)request->tag + 65535u - core->last;
    newer = newer >= 65535u ? newer - 65535u : newer;
    if (newer == 0 && check == core->last_check) {
      core->hal->tx_write(core->hal->user, core->last_answer, core->last_count);
      return;
    }
    if (newer == 0 || newer > 32767u) {
      hs_request_note(request, HS_WHY_STALE, 0);
      refuse(core, request);
      hs_send(core);
      return;
    }
  }
  if (has_tag) {
    core->last = request->tag;
    core->last_check = check;
  }
  work(core, request, kind);
  if (request->why == HS_WHY_NOT) {
    hs_silence_feed(core);
  }
  hs_send(core);
  if (has_tag) {
    for (i = 0; i < core->out.count && i < HS_SHORT_MAX; i++) {
      core->last_answer[i] = core->out.bytes[i];
    }
    core->last_count = i;
  }
}

void hs_request_execute(hs_core *core) {
  hs_line *line = &core->line;
  hs_request request;
  bool is_checked = line->semicolon != HS_NONE;
  bool is_right;
  uint8_t kind;
  request.at = line->bytes;
  request.tag = 0;
  request.is_tagged = false;
  request.is_anybody = true;
  request.why = HS_WHY_NOT;
  request.why_pin = 0;
  if (line->is_long || line->is_bad) {
    answer_damage(core, &request, line->is_long ? HS_WHY_LONG : HS_WHY_BYTES);
    return;
  }
  /* The body ends in a 0 from here on, where the last semicolon was; there is a byte to spare behind the longest. */
  line->bytes[is_checked ? line->semicolon : line->count] = 0;
  if (is_echo(request) || (!is_checked && line->words == 0)) {
    return;
  }
  read_head(&request, is_checked ? line->body_words : line->words);
  kind = kind_of(&request);
  is_right = is_checked && is_check_right(line);
  request.is_anybody = is_checked ? !is_right : request.is_tagged;
  if (request.is_anybody || (!request.is_tagged && kind >= KIND_SET) || (kind == KIND_UNKNOWN && !is_checked)) {
    request.tag = 0;
    answer_damage(core, &request, HS_WHY_CHECK);
    return;
  }
  if (!hs_has_room(core, room_for(request.verb))) {
    core->dropped++;
    if (kind == KIND_STOP) {
      work(core, &request, kind);
    }
    return;
  }
  if (kind >= KIND_SET) {
    change(core, &request, kind);
  } else {
    work(core, &request, kind);
    hs_send(core);
  }
}
