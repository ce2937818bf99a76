/*
 * The device side of line protocol v1 (src/link/PROTOCOL.md) in one C11 file, as a reference for firmware authors.
 *
 * LIVE DC KILLS. This program is not a safety function: the hard-wired chain must act by itself, whatever is said on
 * the line. Local codes and licensed electrical practice govern; every limit must be confirmed by a competent person.
 *
 *   1  figures of this device         the author's own
 *   2  what the hardware must supply  the author's own, against these prototypes
 *   3  the core                       to copy: integers only, no heap, no stdio, nothing blocks
 *   4  the world for trying it out    a small invented plant, to be thrown away
 *   5  the host program               serial port, clock, options: POSIX, to be thrown away
 */
#define _XOPEN_SOURCE 700
#define _DEFAULT_SOURCE
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

/* ==== 1 · figures of this device ================================================================================ */

enum {
  LIMIT_A = 32000,         /* own current limit, counts of 0.01 A */
  LIMIT_V = 9500,          /* own voltage limit, counts of 0.1 V */
  DOWN_A_PER_S = 10000,    /* routine down slope of the converter, counts of 0.01 A */
  EMERGENCY_A_PER_S = 20000,
  MATCH_A_PER_S = 2000,    /* up slope of set-points that need no authority */
  ROUTINE_BREAK_A = 500,   /* contactor P may open at once below this */
  BREAKING_A = 60000,      /* what contactor P can break at all */
  BLEEDER_MS = 6000,       /* a bleeder is never on longer */
  BLEEDER_MJ = 5000000,    /* nor takes more energy than this */
  OUTPUT_BLEEDER_OHM = 60,
  PLUG_BLEEDER_OHM = 80000,
  WAVE_SAMPLES = 250,      /* one burst: five periods of the pilot */
  WAVE_NS = 250000         /* between two samples */
};
#define IDENTITY "id:reference-device,0001 fw:1.0.0 cal:20300101"

/* ==== 2 · what the hardware must supply ========================================================================= */

/* Roles, in the order of a report. Raft n is R1 + n - 1. */
enum { DV, CV, MT, LP, IS, CT, BL, LA, BE, TR, R1, SU = R1 + 8, ST, ROLES };
#define MOST_FIELDS 16
#define EMPTY INT64_MIN /* "cannot be read, or does not apply" */

/* What is driven. The hardware follows it within a millisecond, and falls to all-off by itself when power goes. */
static struct {
  bool converter, coil_p, coil_n, coil_pre, train, raft[8], bleed_output, bleed_plug, locked, pilot, supply_trip;
  uint8_t point, resistor;          /* isolation device */
  int64_t applied_a, limit_v;       /* set-point after the slope (0.01 A), voltage limit (0.1 V) */
} out;

/* What was measured, by role and field, in counts as they stand in a report: value[CT][1] is `closedP`. Field 0 is the
 * sample counter: add one (modulo 65536) for a new measurement, and only then. */
static int64_t value[ROLES][MOST_FIELDS];

static bool has_pre; /* a pre-charge contactor is fitted */

static void hw_measure(bool for_report);              /* fill `value`; true: end of a sampling cycle, a report follows */
static void hw_drive(void);                           /* bring `out` to the terminals */
static void hw_store(uint8_t marks);                  /* keep without power, done when it returns */
static bool hw_send(const char *line, size_t bytes);  /* queue the whole line, or take none of it and say false */
static int hw_wave(int32_t *microamps);               /* one burst of pilot current; how many samples */
static uint32_t hw_bytes_a_period(uint32_t period_ms); /* what the line can carry in one report period */
#define HOLD_TICK()    /* keep the 1 ms interrupt off ... */
#define RELEASE_TICK() /* ... and on again: a few microseconds, around the carrying out of one frame */

/* ==== 3 · the core ============================================================================================== */

/* ---- 3.1 state ---- */

#define LINE_BYTES 2048
#define MARK_LATCHED 1u
#define MARK_ENERGISED 2u

enum { LOST = 0, CAUSE_ORDERED = 1, CAUSE_WATCHDOG, CAUSE_NEW_SESSION, CAUSE_RESTART };
enum answer { DONE, NOT_PERMITTED, LATCHED, NO_AUTHORITY, UNKNOWN_ORDER, BAD_ARGUMENT };

static struct {
  uint32_t now, roles;                     /* device clock, ms since power-up; bit for each role served */
  bool open;                               /* a session is in force */
  uint32_t nonce, taken, sent;             /* sequence numbers: last one taken, last one sent */
  uint32_t known[16], sessions;            /* nonces of the last sessions */
  uint32_t rejected, period, beat, watchdog;
  bool fed;
  uint32_t fed_at;
  uint8_t marks;                           /* as they stand in the store */
  bool latched, made_safe;
} dev;

static struct {
  int64_t match_a, set_a, applied_m;       /* 0.01 A, 0.01 A, and thousandths of that */
  bool authority;
  int64_t ceiling_a, slope;
  uint32_t authority_from, life;
} conv;

static struct { bool running, p_done, tripped, output_on, n_open, train_open, plug_on; uint32_t from, p_at; } seq;
static struct bleeder { bool on; uint32_t from, low_from; bool low; uint64_t microjoules; } bleeder[2];
static struct { int32_t ua[WAVE_SAMPLES]; int n, size, part, parts; uint32_t re; } wave;
static struct { uint32_t at; const char *kind; int64_t v; } tags[32];
static unsigned tags_in, tags_out;

static bool serves(int role) { return (dev.roles >> role & 1u) != 0; }
static int64_t size_of(int64_t v) { return v < 0 && v != EMPTY ? -v : v; }

/* ---- 3.2 check and frame builder ---- */

static uint32_t crc32c(const char *p, size_t n) {
  uint32_t c = 0xffffffffu;
  while (n--) {
    c ^= (uint8_t)*p++;
    for (int k = 0; k < 8; k++) c = (c >> 1) ^ (0x82f63b78u & (0u - (c & 1u)));
  }
  return ~c;
}

static char tx[LINE_BYTES + 1];
static size_t tx_n;

static void put(const char *s) {
  while (*s && tx_n < LINE_BYTES) tx[tx_n++] = *s++;
}
static void put_hex(uint32_t v) {
  char s[9] = {0};
  for (int i = 0; i < 8; i++) s[i] = "0123456789abcdef"[v >> (28 - 4 * i) & 15u];
  put(s);
}
static void put_count(int64_t v) {
  if (v == EMPTY) return;
  if (v > 4294967295) v = 4294967295;
  if (v < -2147483647 - 1) v = -2147483647 - 1;
  char s[12] = {0};
  int i = 11;
  uint64_t u = (uint64_t)(v < 0 ? -v : v);
  do s[--i] = (char)('0' + u % 10); while (u /= 10);
  if (v < 0) s[--i] = '-';
  put(s + i);
}
static void put_pair(const char *before, int64_t v) { put(before); put_count(v); }
static void begin(const char *verb) {
  tx_n = 0;
  put("<"); put_hex(dev.nonce); put_pair(" ", (int64_t)dev.sent + 1); put(" "); put(verb);
}
/* A number is used up only by a line that leaves: what could not be queued is no gap. */
static bool finish(void) {
  if (tx_n + 9 > LINE_BYTES) return false;
  uint32_t crc = crc32c(tx, tx_n);
  put("*"); put_hex(crc);
  tx[tx_n++] = '\n';
  if (!hw_send(tx, tx_n)) return false;
  dev.sent++;
  return true;
}

/* ---- 3.3 tags, bursts and reports ---- */

static void tag(const char *kind, int64_t v) {
  if (tags_in - tags_out == 32) tags_out++; /* the oldest gives way */
  unsigned i = tags_in++ % 32;
  tags[i].at = dev.now; tags[i].kind = kind; tags[i].v = v;
}
/* What happened before a session is told in the next one, with its own time. */
static void send_tags(void) {
  while (dev.open && tags_out != tags_in) {
    begin("tag");
    put_pair(" ev:", tags[tags_out % 32].at); put(","); put(tags[tags_out % 32].kind);
    put_pair(",", tags[tags_out % 32].v);
    if (!finish()) return;
    tags_out++;
  }
}
static void start_wave(uint32_t re) {
  wave.n = hw_wave(wave.ua); wave.re = re; wave.part = 0; wave.parts = 0;
}
/* One part after a report: both together fill no more than three quarters of what a period carries. */
static void send_wave_part(size_t report_bytes) {
  if (wave.part >= wave.parts && wave.parts) wave.n = 0;
  if (!wave.n) return;
  if (!wave.parts) {
    int64_t room = (int64_t)hw_bytes_a_period(dev.period) * 3 / 4 - (int64_t)report_bytes - 70;
    int64_t least = (wave.n + 63) / 64; /* 64 parts at most */
    wave.size = room / 8 > 128 ? 128 : room / 8 > least ? (int)(room / 8) : (int)least;
    wave.parts = (wave.n + wave.size - 1) / wave.size;
  }
  begin("wave");
  put_pair(" re:", wave.re); put_pair(" part:", wave.part + 1); put_pair(",", wave.parts); put_pair(" dt:", WAVE_NS);
  for (int i = wave.part * wave.size; i < (wave.part + 1) * wave.size && i < wave.n; i++)
    put_pair(i == wave.part * wave.size ? " ua:" : ",", wave.ua[i]);
  if (finish()) wave.part++;
}

static const struct { char tag[3]; uint8_t fields; } role_of[ROLES] = {
  {"dv", 5}, {"cv", 7}, {"mt", 16}, {"lp", 6}, {"is", 6}, {"ct", 7}, {"bl", 4}, {"la", 6}, {"be", 5}, {"tr", 4},
  {"r1", 13}, {"r2", 13}, {"r3", 13}, {"r4", 13}, {"r5", 13}, {"r6", 13}, {"r7", 13}, {"r8", 13}, {"su", 6}, {"st", 3}
};

/* What the core itself knows goes into the fields here; all else is the hardware's. */
static void fill_own_fields(void) {
  int64_t *d = value[DV];
  d[0] = (d[0] + 1) & 65535; d[1] = dev.now; d[2] = dev.latched; d[3] = dev.made_safe; d[4] = dev.rejected & 65535u;
  if (value[CV][1] != 3) value[CV][1] = !out.converter ? 0 : conv.set_a > 0 || out.applied_a > 0 ? 2 : 1;
  value[CV][4] = out.applied_a; value[CV][5] = out.limit_v;
  value[CT][4] = out.coil_p; value[CT][5] = out.coil_n; value[CT][6] = out.coil_pre;
  value[BL][1] = out.bleed_output; value[BL][2] = out.bleed_plug;
  value[IS][1] = out.point; value[IS][2] = out.resistor;
  value[LP][5] = out.pilot;
}
static void report(void) {
  hw_measure(true);
  fill_own_fields();
  begin("report");
  for (int r = 0; r < ROLES; r++) {
    if (!serves(r)) continue;
    put(" "); put(role_of[r].tag);
    for (int f = 0; f < role_of[r].fields; f++) put_pair(f ? "," : ":", value[r][f]);
  }
  size_t bytes = tx_n + 10;
  if (finish()) send_wave_part(bytes);
}

/* ---- 3.4 latch, marks and make-safe ---- */

static bool energised(void) { return out.converter || out.coil_p || out.coil_n || out.coil_pre || out.train; }

/* The mark must be in the store before the output moves: called before an output is switched on, and after all. */
static void keep_marks(bool about_to_energise) {
  uint8_t marks = (uint8_t)((dev.latched ? MARK_LATCHED : 0u) | (about_to_energise || energised() ? MARK_ENERGISED : 0u));
  if (marks == dev.marks) return;
  dev.marks = marks;
  hw_store(marks);
}

static void converter_off(void) {
  out.converter = conv.authority = false;
  conv.match_a = conv.set_a = out.limit_v = 0;
}

static void bleed(int side, bool on) {
  struct bleeder *b = &bleeder[side];
  if (on && !b->on) { b->from = dev.now; b->microjoules = 0; b->low = false; }
  b->on = on;
  if (side == 0) out.bleed_output = on; else out.bleed_plug = on;
}

/* The greater of the currents that can be read here; EMPTY, which is less than any number, when none can. */
static int64_t current(void) {
  int64_t a = serves(CV) ? size_of(value[CV][3]) : EMPTY, b = serves(MT) ? size_of(value[MT][1]) : EMPTY;
  return a > b ? a : b;
}
/* Volts of a side (0 output, 1 plug): the meter's, else the converter's own; EMPTY when they cannot be read. */
static int64_t side_volts(int side) {
  if (serves(MT)) return size_of(value[MT][side == 0 ? 4 : 7]);
  return side == 0 && serves(CV) ? size_of(value[CV][2]) : EMPTY;
}

static void make_safe_tick(void);

static void make_safe(int cause) {
  if (dev.made_safe) return;
  if (!dev.latched) tag("latched", cause);
  dev.latched = dev.made_safe = true;
  keep_marks(false);
  tag("make-safe", cause);
  memset(&seq, 0, sizeof seq);
  seq.running = true; seq.from = dev.now;
  if (serves(CV)) tag("converter-off", current());
  converter_off();
  bleed(0, false); bleed(1, false);
  if (serves(IS)) { out.point = 3; out.resistor = 1; }
  if (serves(LP)) start_wave(0);
  make_safe_tick();
}

/* P falls with the current, or at its deadline; above the breaking capacity the supply breaker goes first. */
static void make_safe_p(uint32_t t) {
  bool reads = serves(CV) || serves(MT);
  int64_t a = reads ? current() : EMPTY;
  if (t < 100 && !(serves(CT) && a != EMPTY && a < ROUTINE_BREAK_A)) return;
  bool too_much = t >= 100 && reads && (a == EMPTY || a > BREAKING_A);
  if (too_much && serves(SU) && !seq.tripped) {
    seq.tripped = out.supply_trip = true;
    tag("supply-tripped", a);
  }
  if (too_much && t < 500 && a != EMPTY && (serves(CT) || serves(SU))) return;
  seq.p_done = true; seq.p_at = dev.now;
  if (serves(CT)) { out.coil_p = out.coil_pre = false; tag("opened-p", a); }
}

/* Once, and only where the role is served. */
static bool step(int role, bool *done) {
  bool now = serves(role) && !*done;
  *done = *done || now;
  return now;
}

static void make_safe_tick(void) {
  if (!seq.running) return;
  if (!seq.p_done) make_safe_p(dev.now - seq.from);
  if (!seq.p_done) return;
  uint32_t p = dev.now - seq.p_at;
  if (p >= 20 && step(BL, &seq.output_on)) { bleed(0, true); tag("bleed-output", 1); }
  if (p >= 200 && step(CT, &seq.n_open)) { out.coil_n = false; tag("opened-n", 0); }
  if (p >= 400 && step(TR, &seq.train_open)) { out.train = false; tag("opened-train", 0); }
  if (p >= 480 && step(BL, &seq.plug_on)) { bleed(1, true); tag("bleed-plug", 1); }
  bool done = (seq.plug_on || !serves(BL)) && (seq.train_open || !serves(TR)) && (seq.n_open || !serves(CT));
  if (done && !bleeder[0].on && !bleeder[1].on) { seq.running = false; tag("safe-end", dev.now - seq.from); }
}

static void bleeder_tick(int side) {
  struct bleeder *b = &bleeder[side];
  if (!b->on) return;
  int64_t seen = side_volts(side), v = seen == EMPTY ? LIMIT_V : seen;
  b->microjoules += (uint64_t)(v * v * 10 / (side == 0 ? OUTPUT_BLEEDER_OHM : PLUG_BLEEDER_OHM));
  if (dev.now - b->from >= BLEEDER_MS || b->microjoules >= (uint64_t)BLEEDER_MJ * 1000) {
    bleed(side, false);
    tag("bleed-abort", side + 1);
    return;
  }
  if (!(v < 100)) { b->low = false; return; }
  if (!b->low) { b->low = true; b->low_from = dev.now; }
  if (seq.running && dev.now - b->low_from >= 1000) { bleed(side, false); tag(side == 0 ? "bleed-output" : "bleed-plug", 0); }
}

/* ---- 3.5 converter: authority and slope ---- */

static void converter_tick(void) {
  if (conv.authority && dev.now - conv.authority_from >= conv.life) {
    conv.authority = false;
    if (conv.set_a > 0) tag("authority-expired", conv.set_a);
    conv.set_a = 0;
  }
  int64_t target = conv.set_a * 1000, up = conv.authority ? conv.slope : MATCH_A_PER_S;
  int64_t down = out.converter ? DOWN_A_PER_S : EMERGENCY_A_PER_S;
  if (conv.applied_m < target) conv.applied_m = conv.applied_m + up < target ? conv.applied_m + up : target;
  else conv.applied_m = conv.applied_m - down > target ? conv.applied_m - down : target;
  out.applied_a = conv.applied_m / 1000;
}

/* ---- 3.6 the 1 ms interrupt: needs no serial line to work ---- */

static void device_tick(uint32_t now_ms) {
  dev.now = now_ms;
  hw_measure(false);
  if (energised() && !dev.made_safe && dev.now - dev.fed_at > dev.watchdog) {
    tag("watchdog", dev.now - dev.fed_at);
    make_safe(CAUSE_WATCHDOG);
  }
  make_safe_tick();
  bleeder_tick(0); bleeder_tick(1);
  converter_tick();
  keep_marks(false);
  hw_drive();
}
/* After it, outside the interrupt: what is to be told. */
static void device_talk(void) {
  send_tags();
  if (!dev.open || dev.now - dev.beat < dev.period) return;
  dev.beat += dev.period;
  report();
}

/* ---- 3.7 parser: one pass, no session in it ---- */

enum reject { TAKEN, TOO_LONG, NOT_ASCII, BAD_CRC, BAD_GRAMMAR, WRONG_DIRECTION, UNKNOWN_VERB, UNKNOWN_ROLE,
  OUT_OF_RANGE, WRONG_NONCE, OLD_SEQUENCE };
enum verb { HELLO, FEED, ORDER };
#define MOST_SECTIONS 8
#define MOST_VALUES 20 /* kept of a section; more are counted, and turned away where they stand */
#define MOST_ARGUMENTS 8
#define RAFT_ORDER ROLES /* the tag `r` of join and part */
#define PHASES 20

struct span { const char *p; size_t n; };
struct section { struct span tag, v[MOST_VALUES]; int n; };
struct frame { uint32_t nonce, seq; enum verb verb; int n; struct section s[MOST_SECTIONS]; };

static bool is(struct span a, const char *word) { return a.n == strlen(word) && memcmp(a.p, word, a.n) == 0; }
static bool lower(char c) { return c >= 'a' && c <= 'z'; }
static bool digit(char c) { return c >= '0' && c <= '9'; }
static bool token_char(char c) { return lower(c) || digit(c) || (c >= 'A' && c <= 'Z') || c == '.' || c == '_' || c == '-'; }

static bool hex8(const char *p, uint32_t *v) {
  *v = 0;
  for (int i = 0; i < 8; i++) {
    int d = digit(p[i]) ? p[i] - '0' : p[i] >= 'a' && p[i] <= 'f' ? p[i] - 'a' + 10 : -1;
    if (d < 0) return false;
    *v = *v << 4 | (uint32_t)d;
  }
  return true;
}
/* One spelling for each number: no plus, no leading zero, no minus zero. */
static bool count(struct span a, int64_t *v) {
  bool minus = a.n > 0 && a.p[0] == '-';
  size_t digits = a.n - (minus ? 1 : 0);
  const char *p = a.p + (minus ? 1 : 0);
  if (digits < 1 || digits > 10 || (p[0] == '0' && a.n > 1)) return false;
  *v = 0;
  for (size_t i = 0; i < digits; i++) {
    if (!digit(p[i])) return false;
    *v = *v * 10 + (p[i] - '0');
  }
  if (minus) *v = -*v;
  return *v >= -2147483647 - 1 && *v <= 4294967295;
}
static int role_named(struct span t) {
  for (int r = 0; r < ROLES; r++) if (is(t, role_of[r].tag)) return r;
  return is(t, "r") ? RAFT_ORDER : -1;
}
/* Up to the next separator. */
static struct span word(const char **p, const char *end, char stop1, char stop2) {
  struct span s = { *p, 0 };
  while (*p < end && **p != stop1 && **p != stop2) { (*p)++; s.n++; }
  return s;
}

static enum reject parse_section(const char **p, const char *end, struct section *s) {
  s->tag = word(p, end, ':', ' ');
  s->n = 0;
  if (s->tag.n < 1 || s->tag.n > 8 || !lower(s->tag.p[0]) || *p == end || **p != ':') return BAD_GRAMMAR;
  for (size_t i = 1; i < s->tag.n; i++) if (!lower(s->tag.p[i]) && !digit(s->tag.p[i])) return BAD_GRAMMAR;
  do {
    (*p)++;
    struct span v = word(p, end, ',', ' ');
    if (v.n > 32) return BAD_GRAMMAR;
    for (size_t i = 0; i < v.n; i++) if (!token_char(v.p[i])) return BAD_GRAMMAR;
    if (s->n < MOST_VALUES) s->v[s->n] = v;
    s->n++;
  } while (*p < end && **p == ',');
  return TAKEN;
}

static enum reject check_hello(const struct frame *f) {
  static const char *const tags_wanted[5] = { "lw", "per", "wd", "lim", "roles" };
  static const int values_wanted[5] = { 1, 1, 1, 2, 0 };
  int64_t v[5] = {0};
  if (f->n != 5) return BAD_GRAMMAR;
  for (int i = 0; i < 5; i++) if (!is(f->s[i].tag, tags_wanted[i])) return BAD_GRAMMAR;
  for (int i = 0; i < 4; i++)
    for (int k = 0; k < f->s[i].n; k++)
      if (f->s[i].n != values_wanted[i] || !count(f->s[i].v[k], &v[i + k])) return BAD_GRAMMAR;
  uint32_t named = 0;
  if (f->s[4].n > MOST_VALUES) return BAD_GRAMMAR; /* more than there are roles: one stands twice */
  for (int i = 0; i < f->s[4].n; i++) {
    int r = role_named(f->s[4].v[i]);
    if (r < 0 || r == DV || r == RAFT_ORDER) return UNKNOWN_ROLE;
    if (named >> r & 1u) return BAD_GRAMMAR;
    named |= 1u << r;
  }
  bool fits = v[0] >= 1 && v[0] <= 9999 && v[1] >= 1 && v[1] <= 10000 && v[2] >= 1 && v[2] <= 10000 && v[3] >= 0 && v[4] >= 0;
  return fits ? TAKEN : OUT_OF_RANGE;
}
static enum reject check_feed(const struct frame *f) {
  int64_t v;
  if (f->n != 1 || !is(f->s[0].tag, "ph") || f->s[0].n != 1 || !count(f->s[0].v[0], &v)) return BAD_GRAMMAR;
  return v >= 0 && v < PHASES ? TAKEN : OUT_OF_RANGE;
}
static enum reject check_order(const struct frame *f) {
  int64_t v;
  if (f->n < 1) return BAD_GRAMMAR;
  for (int i = 0; i < f->n; i++) {
    int role = role_named(f->s[i].tag);
    if (f->s[i].v[0].n == 0 || f->s[i].n - 1 > MOST_ARGUMENTS) return BAD_GRAMMAR;
    for (int k = 1; k < f->s[i].n; k++)
      if (f->s[i].v[k].n && !count(f->s[i].v[k], &v)) return BAD_GRAMMAR;
    if (role < 0 || (role >= R1 && role < SU)) return UNKNOWN_ROLE;
  }
  return TAKEN;
}

/* `line` without its line feed. */
static enum reject parse(const char *line, size_t n, struct frame *f) {
  uint32_t crc;
  int64_t number;
  if (n > LINE_BYTES) return TOO_LONG;
  for (size_t i = 0; i < n; i++) if (line[i] < 32 || line[i] > 126) return NOT_ASCII;
  if (n < 9 || line[n - 9] != '*' || !hex8(line + n - 8, &crc)) return BAD_GRAMMAR;
  const char *end = line + n - 9, *p = line + 10;
  if (crc != crc32c(line, (size_t)(end - line))) return BAD_CRC;
  if (n < 9 + 14 || (line[0] != '>' && line[0] != '<') || !hex8(line + 1, &f->nonce) || line[9] != ' ') return BAD_GRAMMAR;
  if (line[0] == '<') return WRONG_DIRECTION;
  struct span s = word(&p, end, ' ', ' ');
  if (!count(s, &number) || number < 1 || p == end) return BAD_GRAMMAR;
  f->seq = (uint32_t)number;
  p++;
  struct span verb = word(&p, end, ' ', ' ');
  if (verb.n < 1) return BAD_GRAMMAR;
  for (size_t i = 0; i < verb.n; i++) if (!lower(verb.p[i])) return BAD_GRAMMAR;
  if (is(verb, "hello")) f->verb = HELLO;
  else if (is(verb, "feed")) f->verb = FEED;
  else if (is(verb, "order")) f->verb = ORDER;
  else return UNKNOWN_VERB;
  for (f->n = 0; p < end; f->n++) {
    p++; /* the space */
    if (f->n == MOST_SECTIONS || parse_section(&p, end, &f->s[f->n]) != TAKEN) return BAD_GRAMMAR;
  }
  return f->verb == HELLO ? check_hello(f) : f->verb == FEED ? check_feed(f) : check_order(f);
}

/* ---- 3.8 orders ---- */

enum act { MAKE_SAFE, CLEAR_LATCH, ENABLE, DISABLE, AUTHORITY, SET, CLOSE_P, OPEN_P, CLOSE_N, OPEN_N, CLOSE_PRE, OPEN_PRE,
  TRAIN_CLOSE, TRAIN_OPEN, JOIN, PART, BLEED_OUTPUT, BLEED_PLUG, LOCK, UNLOCK, CONNECT, PILOT, WAVEFORM, TRIP };
static const struct { int role; const char *name; int args; enum act act; } order_of[] = {
  {DV, "make-safe", 0, MAKE_SAFE}, {DV, "clear-latch", 0, CLEAR_LATCH},
  {CV, "enable", 1, ENABLE}, {CV, "disable", 0, DISABLE}, {CV, "authority", 3, AUTHORITY}, {CV, "set", 2, SET},
  {CT, "close-p", 0, CLOSE_P}, {CT, "open-p", 0, OPEN_P}, {CT, "close-n", 0, CLOSE_N}, {CT, "open-n", 0, OPEN_N},
  {CT, "close-pre", 0, CLOSE_PRE}, {CT, "open-pre", 0, OPEN_PRE}, {TR, "close", 0, TRAIN_CLOSE}, {TR, "open", 0, TRAIN_OPEN},
  {RAFT_ORDER, "join", 1, JOIN}, {RAFT_ORDER, "part", 1, PART}, {BL, "output", 1, BLEED_OUTPUT}, {BL, "plug", 1, BLEED_PLUG},
  {LA, "lock", 0, LOCK}, {LA, "unlock", 0, UNLOCK}, {IS, "connect", 2, CONNECT}, {LP, "pilot", 1, PILOT},
  {LP, "waveform", 0, WAVEFORM}, {SU, "trip", 0, TRIP}
};

static enum answer may_energise(void) {
  if (dev.latched) return LATCHED;
  if (dev.made_safe || !dev.fed || dev.now - dev.fed_at > dev.watchdog) return NOT_PERMITTED;
  keep_marks(true);
  return DONE;
}
static bool below_60(int64_t v) { return v != EMPTY && size_of(v) < 600; }

/* Contactors not driven, and none says closed or says nothing; one that is not fitted has nothing to say. */
static bool contactors_open(void) {
  if (out.coil_p || out.coil_n || out.coil_pre) return false;
  return !serves(CT) || (value[CT][1] == 0 && value[CT][2] == 0 && (value[CT][3] == 0 || !has_pre));
}
/* Nothing live, or unreadable, on the output or the plug, from pole to pole or to chassis. */
static bool sides_dead(void) {
  if ((serves(MT) || serves(CV)) && !below_60(side_volts(0))) return false;
  if (serves(MT) && !below_60(side_volts(1))) return false;
  for (int f = 10; f <= 13; f++) if (serves(MT) && !below_60(value[MT][f])) return false;
  return true;
}
static enum answer unlock(void) {
  if (dev.latched) return LATCHED;
  if (!contactors_open() || out.train || (serves(MT) && !below_60(side_volts(1)))) return NOT_PERMITTED;
  out.locked = false;
  return DONE;
}
static enum answer set_point(int64_t a, int64_t v) {
  enum answer leave;
  if (a < 0 || v < 0) return BAD_ARGUMENT;
  if (a > 0 && (leave = may_energise()) != DONE) return leave;
  if (!out.converter) return a == 0 ? DONE : NOT_PERMITTED; /* zero is what it does already */
  if (a > LIMIT_A || v > LIMIT_V) return NOT_PERMITTED;
  if (a > conv.match_a && !(conv.authority && a <= conv.ceiling_a)) return NO_AUTHORITY;
  conv.set_a = a; out.limit_v = v;
  return DONE;
}
static enum answer authority(int64_t ceiling, int64_t slope, int64_t life) {
  enum answer leave;
  if (ceiling < 0 || slope < 0 || life < 0) return BAD_ARGUMENT;
  if (ceiling > 0 && (leave = may_energise()) != DONE) return leave;
  if (ceiling > LIMIT_A) return NOT_PERMITTED;
  if (ceiling > 0 && (slope == 0 || life == 0 || life > 60000)) return BAD_ARGUMENT;
  if (ceiling == 0) {
    if (conv.authority) conv.set_a = 0;
    conv.authority = false;
    return DONE;
  }
  conv.authority = true;
  conv.ceiling_a = ceiling; conv.slope = slope; conv.life = (uint32_t)life; conv.authority_from = dev.now;
  int64_t most = ceiling > conv.match_a ? ceiling : conv.match_a;
  if (conv.set_a > most) conv.set_a = most;
  return DONE;
}
static enum answer bleeder_order(int side, int64_t on) {
  if (on != 0 && on != 1) return BAD_ARGUMENT;
  bool bleeds_pack = side == 0 ? out.coil_p && out.coil_n : out.train;
  if (seq.running || (on && bleeds_pack)) return NOT_PERMITTED;
  bleed(side, on != 0);
  return DONE;
}
static enum answer close_coil(bool *coil) {
  enum answer leave = may_energise();
  if (leave == DONE) *coil = true;
  return leave;
}
static enum answer raft(int64_t n, bool join) {
  if (n < 1 || n > 8 || !serves(R1 + (int)n - 1)) return BAD_ARGUMENT;
  if (join) return close_coil(&out.raft[n - 1]);
  out.raft[n - 1] = false;
  return DONE;
}

static enum answer carry_out(enum act act, const int64_t *a, uint32_t re) {
  enum answer leave;
  switch (act) {
    case MAKE_SAFE: make_safe(CAUSE_ORDERED); return DONE;
    case CLEAR_LATCH:
      if (seq.running || !contactors_open() || !sides_dead()) return NOT_PERMITTED;
      if (dev.latched) tag("cleared", 0);
      dev.latched = dev.made_safe = false;
      return DONE;
    case ENABLE:
      if (a[0] < 0) return BAD_ARGUMENT;
      if ((leave = may_energise()) != DONE) return leave;
      if (a[0] > LIMIT_A) return NOT_PERMITTED;
      out.converter = true; conv.match_a = a[0]; /* said again it leaves a standing set-point alone */
      return DONE;
    case DISABLE: converter_off(); return DONE;
    case AUTHORITY: return authority(a[0], a[1], a[2]);
    case SET: return set_point(a[0], a[1]);
    case CLOSE_P: return close_coil(&out.coil_p);
    case CLOSE_N: return close_coil(&out.coil_n);
    case CLOSE_PRE: return !has_pre ? UNKNOWN_ORDER : close_coil(&out.coil_pre);
    case OPEN_P: out.coil_p = false; return DONE;
    case OPEN_N: out.coil_n = false; return DONE;
    case OPEN_PRE: out.coil_pre = false; return DONE;
    case TRAIN_CLOSE: return close_coil(&out.train);
    case TRAIN_OPEN: out.train = false; return DONE;
    case JOIN: return raft(a[0], true);
    case PART: return raft(a[0], false);
    case BLEED_OUTPUT: return bleeder_order(0, a[0]);
    case BLEED_PLUG: return bleeder_order(1, a[0]);
    case LOCK: out.locked = true; return DONE;
    case UNLOCK: return unlock();
    case CONNECT:
      if (a[0] < 0 || a[0] > 3 || a[1] < 0 || a[1] > 2) return BAD_ARGUMENT;
      if (seq.running) return NOT_PERMITTED;
      out.point = (uint8_t)a[0];
      out.resistor = a[0] == 3 ? (uint8_t)a[1] : 0; /* the others are injected */
      return DONE;
    case PILOT:
      if (a[0] != 0 && a[0] != 1) return BAD_ARGUMENT;
      out.pilot = a[0] == 1;
      return DONE;
    case WAVEFORM: start_wave(re); return DONE;
    case TRIP: out.supply_trip = true; return DONE;
  }
  return UNKNOWN_ORDER;
}

static enum answer one_order(const struct section *s, uint32_t re) {
  int role = role_named(s->tag);
  for (size_t i = 0; i < sizeof order_of / sizeof order_of[0]; i++) {
    int64_t a[3] = {0};
    if (order_of[i].role != role || !is(s->v[0], order_of[i].name)) continue;
    if (role == RAFT_ORDER ? (dev.roles >> R1 & 255u) == 0 : !serves(role)) return UNKNOWN_ORDER;
    if (s->n - 1 != order_of[i].args) return BAD_ARGUMENT;
    for (int k = 0; k < order_of[i].args; k++) if (!count(s->v[k + 1], &a[k])) return BAD_ARGUMENT;
    return carry_out(order_of[i].act, a, re);
  }
  return UNKNOWN_ORDER;
}

/* ---- 3.9 sessions ---- */

static void welcome(void) {
  begin("welcome");
  put(" lw:1 " IDENTITY);
  put_pair(" wd:", dev.watchdog); put_pair(" per:", dev.period);
  put_pair(" lim:", LIMIT_A); put_pair(",", LIMIT_V);
  const char *before = " roles:";
  for (int r = CV; r < ROLES; r++) if (serves(r)) { put(before); put(role_of[r].tag); before = ","; }
  put_pair(" latched:", dev.latched);
  finish();
}

static enum reject take_hello(const struct frame *f) {
  if (dev.open && f->nonce == dev.nonce) {
    if (f->seq <= dev.taken) return OLD_SEQUENCE;
    dev.taken = f->seq;
    welcome();
    return TAKEN;
  }
  for (uint32_t i = 0; i < dev.sessions && i < 16; i++) if (dev.known[i] == f->nonce) return WRONG_NONCE;
  wave.n = 0; /* what the session before asked for ... */
  conv.authority = false; /* ... and was given */
  if (energised()) make_safe(CAUSE_NEW_SESSION); /* somebody vanished without a word */
  int64_t per = 0, wd = 0;
  count(f->s[1].v[0], &per); count(f->s[2].v[0], &wd);
  per = per < 10 ? 10 : per > 500 ? 500 : per;
  dev.known[dev.sessions++ % 16] = f->nonce;
  if (dev.sessions == 32) dev.sessions = 16;
  dev.open = true; dev.nonce = f->nonce; dev.taken = f->seq; dev.sent = 0; dev.rejected = 0; dev.fed = false;
  dev.period = (uint32_t)per; dev.beat = dev.now - dev.now % dev.period;
  if (wd < 3 * per) wd = 3 * per;
  dev.watchdog = wd > 1000 ? 1000 : (uint32_t)wd;
  welcome();
  return TAKEN;
}

static enum reject take(const struct frame *f) {
  if (f->verb == HELLO) return take_hello(f);
  if (!dev.open || f->nonce != dev.nonce) return WRONG_NONCE;
  if (f->seq <= dev.taken) return OLD_SEQUENCE;
  dev.taken = f->seq;
  if (f->verb == FEED) { dev.fed = true; dev.fed_at = dev.now; return TAKEN; }
  enum answer code = DONE;
  int i;
  for (i = 0; i < f->n; i++) /* obeyed wherever it stands */
    if (f->s[i].n == 1 && is(f->s[i].tag, "dv") && is(f->s[i].v[0], "make-safe")) make_safe(CAUSE_ORDERED);
  for (i = 0; i < f->n && code == DONE; i++) code = one_order(&f->s[i], f->seq);
  keep_marks(false);
  hw_drive();
  begin("answer");
  put_pair(" re:", f->seq); put_pair(",", code); put_pair(",", code == DONE ? EMPTY : i - 1);
  finish();
  return TAKEN;
}

/* ---- 3.10 receiver: one byte at a time, one buffer ---- */

static char rx[LINE_BYTES];
static size_t rx_n; /* one more than fits: the line is too long, and thrown away up to its line feed */
static enum reject rx_last;

static void device_byte(char c) {
  static struct frame frame;
  if (c != '\n') {
    if (rx_n < LINE_BYTES) rx[rx_n] = c;
    if (rx_n <= LINE_BYTES) rx_n++;
    return;
  }
  rx_last = parse(rx, rx_n, &frame);
  rx_n = 0;
  HOLD_TICK();
  if (rx_last == TAKEN) rx_last = take(&frame);
  if (rx_last != TAKEN) dev.rejected++;
  RELEASE_TICK();
  send_tags();
}

static void device_power_up(uint32_t now_ms, uint8_t marks) {
  dev.now = now_ms; dev.marks = marks;
  dev.latched = (marks & (MARK_LATCHED | MARK_ENERGISED)) != 0;
  out.locked = dev.latched;
  if (marks & MARK_ENERGISED) tag("latched", CAUSE_RESTART);
  keep_marks(false);
}

/* ==== 4 · the world for trying it out =========================================================================== */
/* Six poles (output, plug, train bus; positive, negative) with their capacitors and leaks to chassis, solved anew each
 * millisecond by backward Euler. A battery is an open-circuit curve and a resistance, its charge is counted. */

#include <math.h>

enum { OUT_P, OUT_N, PLUG_P, PLUG_N, TRAIN_P, TRAIN_N, NODES };
#define CHASSIS (-1)
#define STEP_S 0.001
#define RAFT_AH 140.0
#define RAFT_OHM 0.24
#define CELLS 192

struct contact { bool closed; int moving_ms; };
static bool by_hand; /* --bench: volts and amps are what a test says, contactors follow at once */
static struct {
  double v[NODES], soc[8], raft_a[8], limit_v, source_a, p_a, cable_c;
  struct contact p, n, pre, train, raft[8], lock;
  bool breaker;
  uint32_t noise;
  double a_min, a_max, o_min, o_max, g_min, g_max;
} w;
static double net[NODES][NODES], into[NODES];

/* Small and even, between -1 and 1. */
static double noise(void) {
  if (by_hand) return 0;
  w.noise ^= w.noise << 13; w.noise ^= w.noise >> 17; w.noise ^= w.noise << 5;
  return w.noise / 2147483648.0 - 1;
}
static double open_circuit_cell_v(double soc) {
  static const double at[] = { 0, 0.1, 0.3, 0.5, 0.6, 0.7, 0.85, 0.95, 1 };
  static const double v[] = { 2.87, 3.32, 3.57, 3.69, 3.81, 3.91, 4.05, 4.11, 4.18 };
  int i = 0;
  while (i < 7 && soc > at[i + 1]) i++;
  return v[i] + (v[i + 1] - v[i]) * (soc - at[i]) / (at[i + 1] - at[i]);
}
static void conduct(int a, int b, double g) {
  if (a != CHASSIS) net[a][a] += g;
  if (b != CHASSIS) net[b][b] += g;
  if (a != CHASSIS && b != CHASSIS) { net[a][b] -= g; net[b][a] -= g; }
}
static void source(int a, int b, double amps) {
  if (a != CHASSIS) into[a] += amps;
  if (b != CHASSIS) into[b] -= amps;
}
static void capacitor(int a, int b, double farad) {
  double was = w.v[a] - (b == CHASSIS ? 0 : w.v[b]);
  conduct(a, b, farad / STEP_S);
  source(a, b, farad / STEP_S * was);
}
static void battery(int a, int b, double volts, double ohm) { conduct(a, b, 1 / ohm); source(a, b, volts / ohm); }

/* Gauss with pivots, two right-hand sides: the net as it is, and one ampere from the converter. */
static void solve(double base[NODES], double unit[NODES]) {
  double m[NODES][NODES + 2];
  for (int r = 0; r < NODES; r++) {
    for (int c = 0; c < NODES; c++) m[r][c] = net[r][c];
    m[r][NODES] = into[r];
    m[r][NODES + 1] = r == OUT_P ? 1 : r == OUT_N ? -1 : 0;
  }
  for (int k = 0; k < NODES; k++) {
    int best = k;
    for (int r = k; r < NODES; r++) if (fabs(m[r][k]) > fabs(m[best][k])) best = r;
    for (int c = 0; c < NODES + 2; c++) { double t = m[k][c]; m[k][c] = m[best][c]; m[best][c] = t; }
    for (int r = 0; r < NODES; r++) {
      double f = m[r][k] / m[k][k];
      if (r != k) for (int c = k; c < NODES + 2; c++) m[r][c] -= f * m[k][c];
    }
  }
  for (int k = 0; k < NODES; k++) { base[k] = m[k][NODES] / m[k][k]; unit[k] = m[k][NODES + 1] / m[k][k]; }
}

static void move(struct contact *c, bool driven, int close_ms, int open_ms) {
  if (driven == c->closed) c->moving_ms = 0;
  else if (++c->moving_ms >= (driven ? close_ms : open_ms)) { c->closed = driven; c->moving_ms = 0; }
}
static void widen(double v, double *least, double *most) { if (v < *least) *least = v; if (v > *most) *most = v; }

static void lay_out_net(void) {
  memset(net, 0, sizeof net); memset(into, 0, sizeof into);
  static const double leak_ohm[NODES] = { 5e6, 5e6, 1e7, 1e7, 5e6, 5e6 }, farad[NODES] = { 6e-8, 6e-8, 2e-8, 2e-8, 1e-7, 1e-7 };
  for (int i = 0; i < NODES; i++) { conduct(i, CHASSIS, 1 / leak_ohm[i]); capacitor(i, CHASSIS, farad[i]); }
  capacitor(OUT_P, OUT_N, 0.008); capacitor(PLUG_P, PLUG_N, 1e-6); capacitor(TRAIN_P, TRAIN_N, 1e-6);
  if (w.p.closed) conduct(OUT_P, PLUG_P, 1e4);
  if (w.pre.closed) conduct(OUT_P, PLUG_P, 1 / 50.0);
  if (w.n.closed) conduct(OUT_N, PLUG_N, 1e4);
  if (w.train.closed) { conduct(PLUG_P, TRAIN_P, 200); conduct(PLUG_N, TRAIN_N, 200); }
  if (out.bleed_output) conduct(OUT_P, OUT_N, 1.0 / OUTPUT_BLEEDER_OHM);
  if (out.bleed_plug) conduct(PLUG_P, PLUG_N, 1.0 / PLUG_BLEEDER_OHM);
  for (int i = 0; i < 8; i++) if (w.raft[i].closed) battery(TRAIN_P, TRAIN_N, CELLS * open_circuit_cell_v(w.soc[i]), RAFT_OHM);
}
/* Meters load both poles; a dead point is injected with 48 V through 100 kilohm, a live one gets the known resistor. */
static void lay_out_isolation(void) {
  value[IS][3] = 0;
  if (out.point == 0) return;
  int p = out.point == 1 ? OUT_P : PLUG_P, n = p + 1;
  conduct(p, CHASSIS, 1e-7); conduct(n, CHASSIS, 1e-7);
  if (out.resistor) conduct(out.resistor == 1 ? p : n, CHASSIS, 1 / 75000.0);
  else if (out.point != 3 && fabs(w.v[p] - w.v[n]) <= 60) {
    value[IS][3] = 1;
    battery(p, CHASSIS, 48, 1e5); battery(n, CHASSIS, 48, 1e5);
  }
}

static void world_step(void) {
  double base[NODES], unit[NODES];
  if (by_hand) { w.p.closed = out.coil_p; w.n.closed = out.coil_n; w.lock.closed = out.locked; return; }
  move(&w.p, out.coil_p, 60, 40); move(&w.n, out.coil_n, 60, 40); move(&w.pre, out.coil_pre && has_pre, 60, 40);
  move(&w.train, out.train, 60, 40); move(&w.lock, out.locked, 300, 300);
  for (int i = 0; i < 8; i++) move(&w.raft[i], out.raft[i], 100, 100);
  if (out.supply_trip) w.breaker = false;
  lay_out_net();
  lay_out_isolation();
  solve(base, unit);
  double wanted = (double)out.limit_v / 10, now_v = w.v[OUT_P] - w.v[OUT_N];
  if (!out.converter || w.limit_v < now_v) w.limit_v = now_v < wanted ? now_v : wanted;
  w.limit_v = fmin(wanted, w.limit_v + 300 * STEP_S);
  double need = (w.limit_v - (base[OUT_P] - base[OUT_N])) / (unit[OUT_P] - unit[OUT_N]);
  /* after switching off the current still falls along its slope, whatever the voltage limit said */
  double most = w.breaker ? (double)out.applied_a / 100 : 0;
  w.source_a = out.converter ? fmax(0, fmin(need, most)) : most;
  for (int i = 0; i < NODES; i++) w.v[i] = base[i] + w.source_a * unit[i];
  w.p_a = (w.v[OUT_P] - w.v[PLUG_P]) * (w.p.closed ? 1e4 : w.pre.closed ? 1 / 50.0 : 0);
  double bus = w.v[TRAIN_P] - w.v[TRAIN_N];
  for (int i = 0; i < 8; i++) {
    w.raft_a[i] = w.raft[i].closed ? (bus - CELLS * open_circuit_cell_v(w.soc[i])) / RAFT_OHM : 0;
    w.soc[i] += w.raft_a[i] * STEP_S / 3600 / RAFT_AH;
  }
  w.cable_c += (35 + 4.4e-4 * w.p_a * w.p_a - w.cable_c) * STEP_S / 1200;
}

static int64_t counts(double v, double one) { return isnan(v) ? EMPTY : (int64_t)floor(v / one + 0.5); }
static void set(int role, const int64_t *v) { memcpy(&value[role][1], v, sizeof(int64_t) * (role_of[role].fields - 1u)); }

/* What is too quick for a report: each millisecond. */
static void measure_fast(void) {
  double a = w.p_a + 0.03 * noise(), o = w.v[OUT_P] - w.v[OUT_N] + 0.1 * noise(), g = w.v[PLUG_P] - w.v[PLUG_N] + 0.1 * noise();
  widen(a, &w.a_min, &w.a_max); widen(o, &w.o_min, &w.o_max); widen(g, &w.g_min, &w.g_max);
  value[CV][2] = counts(o + 0.1 * noise(), 0.1); value[CV][3] = counts(a + 0.03 * noise(), 0.01);
  set(MT, (int64_t[]){ counts(a, 0.01), counts(w.a_min, 0.01), counts(w.a_max, 0.01), counts(o, 0.1), counts(w.o_min, 0.1),
    counts(w.o_max, 0.1), counts(g, 0.1), counts(w.g_min, 0.1), counts(w.g_max, 0.1), counts(w.v[OUT_P], 0.1),
    counts(w.v[OUT_N], 0.1), counts(w.v[PLUG_P], 0.1), counts(w.v[PLUG_N], 0.1), counts(w.cable_c, 0.1),
    counts(26 + 2.5e-4 * w.p_a * w.p_a, 0.1) });
  value[CT][1] = w.p.closed; value[CT][2] = w.n.closed;
  value[CT][3] = has_pre ? w.pre.closed : EMPTY;
  set(TR, (int64_t[]){ w.train.closed, w.train.closed, counts(w.v[TRAIN_P] - w.v[TRAIN_N] + 0.1 * noise(), 0.1) });
}
/* The pilot: 12 V rms, 80 Hz, through 1 kilohm, the core and the diode at its far end; 3 Mohm of leak across it. */
static double pilot_amps(int i) {
  double v = out.pilot ? 12 * sqrt(2) * sin(2 * acos(-1) * i / 50) : 0;
  return (v > 0.7 ? (v - 0.7) / 1006 : 0) + v / 3e6 + 5e-7 * noise();
}
static int hw_wave(int32_t *microamps) {
  for (int i = 0; i < WAVE_SAMPLES; i++) microamps[i] = (int32_t)counts(pilot_amps(i), 1e-6);
  return WAVE_SAMPLES;
}
static void measure_slow(void) {
  enum { WINDOW = 200 }; /* four periods, which fit a report period of 50 ms */
  double sum = 0, squares = 0, least = 1, most = -1;
  for (int i = 0; i < WINDOW; i++) {
    double a = pilot_amps(i);
    sum += a; squares += a * a; widen(a, &least, &most);
  }
  set(LP, (int64_t[]){ counts(sum / WINDOW, 1e-6), counts(sqrt(squares / WINDOW), 1e-6), counts(most, 1e-6),
    counts(least, 1e-6), 0 });
  int at = out.point == 1 ? OUT_P : PLUG_P;
  value[IS][4] = out.point ? counts(w.v[at] + 0.01 * noise(), 0.01) : EMPTY;
  value[IS][5] = out.point ? counts(w.v[at + 1] + 0.01 * noise(), 0.01) : EMPTY;
  value[CV][6] = 400; value[BL][3] = 350;
  set(LA, (int64_t[]){ 1, w.lock.closed, EMPTY, EMPTY, EMPTY });
  set(BE, (int64_t[]){ 1, 1, 1, 20 });
  for (int i = 0; i < 8; i++) {
    double open_v = CELLS * open_circuit_cell_v(w.soc[i]), v = open_v + RAFT_OHM * w.raft_a[i], cell = v / CELLS;
    double may = fmin(120, fmax(0, (4.12 - cell) * 4000));
    set(R1 + i, (int64_t[]){ counts(v + 0.1 * noise(), 0.1), counts(w.raft_a[i] + 0.03 * noise(), 0.01), w.raft[i].closed, 2000,
      counts(cell - 0.002, 0.001), counts(cell + 0.002, 0.001), 240, 260, counts(w.soc[i], 0.0001), counts(may, 0.1), 0, EMPTY });
  }
  double watts = (w.v[OUT_P] - w.v[OUT_N] + 8) * w.source_a + 1500;
  set(SU, (int64_t[]){ w.breaker, w.breaker, counts(50 - watts / 4e5 * 1.5, 0.01), 4000, w.breaker ? counts(watts, 10) : 0 });
  set(ST, (int64_t[]){ 1, 0 });
}
static void hw_measure(bool for_report) {
  measure_fast();
  if (!for_report) return;
  measure_slow();
  for (int r = CV; r < ROLES; r++) value[r][0] = (value[r][0] + 1) & 65535;
  w.a_min = w.o_min = w.g_min = 1e9;
  w.a_max = w.o_max = w.g_max = -1e9;
}

/* ==== 5 · the host program ====================================================================================== */

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

static int in_fd = 0, out_fd = 1;
static bool line_gone;
static uint32_t baud = 460800;
static const char *store_path;
static FILE *trace;
static char queue[1 << 14];
static size_t queued;

static void flush_queue(void) {
  ssize_t n = queued ? write(out_fd, queue, queued) : 0;
  if (n < 0 && errno != EAGAIN && errno != EINTR) { line_gone = true; queued = 0; }
  if (n > 0) { memmove(queue, queue + n, queued - (size_t)n); queued -= (size_t)n; }
}
static bool hw_send(const char *line, size_t bytes) {
  if (queued + bytes > sizeof queue) return false;
  memcpy(queue + queued, line, bytes);
  queued += bytes;
  return true;
}
static uint32_t hw_bytes_a_period(uint32_t period_ms) { return baud / 10 * period_ms / 1000; }

static void hw_store(uint8_t marks) {
  if (!store_path) return;
  int fd = open(store_path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
  char c = (char)('0' + marks);
  if (fd < 0 || write(fd, &c, 1) != 1 || fsync(fd) != 0) { perror(store_path); exit(2); }
  close(fd);
}
static uint8_t stored_marks(void) {
  char c = '0';
  int fd = store_path ? open(store_path, O_RDONLY) : -1;
  if (fd < 0) return 0;
  ssize_t n = read(fd, &c, 1);
  close(fd);
  return n == 1 && c >= '0' && c <= '3' ? (uint8_t)(c - '0') : MARK_LATCHED; /* a store nobody can read is no clean one */
}

/* Each change of what is driven, for whoever watches from outside. */
static void hw_drive(void) {
  static int was = -1;
  int is_now = out.converter | out.coil_p << 1 | out.coil_n << 2 | out.coil_pre << 3 | out.train << 4 | out.bleed_output << 5 |
    out.bleed_plug << 6 | out.locked << 7 | dev.latched << 8;
  if (!trace || was == is_now) return;
  was = is_now;
  fprintf(trace, "%u converter=%d p=%d n=%d pre=%d train=%d output-bleeder=%d plug-bleeder=%d locked=%d latched=%d\n", dev.now,
    out.converter, out.coil_p, out.coil_n, out.coil_pre, out.train, out.bleed_output, out.bleed_plug, out.locked, dev.latched);
  fflush(trace);
}

static uint32_t clock_ms(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (uint32_t)((uint64_t)t.tv_sec * 1000 + (uint64_t)t.tv_nsec / 1000000);
}

static void open_line(const char *path) {
  if (strcmp(path, "-") != 0) in_fd = out_fd = open(path, O_RDWR | O_NOCTTY);
  if (in_fd < 0) { perror(path); exit(2); }
  struct termios t;
  if (tcgetattr(in_fd, &t) == 0) {
    static const struct { uint32_t baud; speed_t speed; } speeds[] = {
      {57600, B57600}, {115200, B115200}, {230400, B230400}, {460800, B460800}, {921600, B921600} };
    cfmakeraw(&t);
    for (size_t i = 0; i < sizeof speeds / sizeof speeds[0]; i++)
      if (speeds[i].baud == baud) { cfsetispeed(&t, speeds[i].speed); cfsetospeed(&t, speeds[i].speed); }
    tcsetattr(in_fd, TCSANOW, &t);
  }
  fcntl(in_fd, F_SETFL, fcntl(in_fd, F_GETFL) | O_NONBLOCK);
  fcntl(out_fd, F_SETFL, fcntl(out_fd, F_GETFL) | O_NONBLOCK);
}

static void read_line_bytes(void) {
  char some[4096];
  ssize_t n = read(in_fd, some, sizeof some);
  if (n == 0 || (n < 0 && errno != EAGAIN && errno != EINTR)) line_gone = true;
  for (ssize_t i = 0; i < n; i++) device_byte(some[i]);
}

/* A pulled line is no reason to stop: the device goes on until nothing is energised any more. */
static void run(void) {
  uint32_t start = clock_ms();
  fputs("Answering. LIVE DC KILLS: this is not a safety function.\n", stderr);
  while (!line_gone || energised() || seq.running) {
    struct pollfd p = { in_fd, POLLIN, 0 };
    int n = poll(&p, line_gone ? 0 : 1, 1);
    if (n > 0) read_line_bytes();
    for (uint32_t now = clock_ms() - start; dev.now != now;) {
      world_step();
      device_tick(dev.now + 1);
      device_talk();
    }
    if (line_gone && in_fd == out_fd) queued = 0;
    flush_queue();
  }
}

/* Lines from stdin, the parser's verdict on each to stdout: for vectors and fuzzing. */
static int judge(void) {
  static const char *const names[] = { "taken", "too-long", "not-ascii", "bad-crc", "bad-grammar", "wrong-direction",
    "unknown-verb", "unknown-role", "out-of-range" };
  static struct frame frame;
  static char line[LINE_BYTES + 1];
  size_t n = 0;
  for (int c; (c = getchar()) != EOF;) {
    if (c != '\n') { if (n <= LINE_BYTES) line[n++] = (char)c; continue; }
    puts(names[parse(line, n, &frame)]);
    n = 0;
  }
  return 0;
}

/* A device in the hand of a test, in its time. Line by line: `>` and a line for the device, `=A,V,V` sets current, output
 * and plug volts, `+ms` lets time pass; then comes what the device said, and a line with a dot. */
static int bench(void) {
  static char line[4 * LINE_BYTES];
  double a, o, g;
  by_hand = true;
  while (fgets(line, sizeof line, stdin)) {
    size_t n = strlen(line);
    if (line[0] == '>') for (size_t i = 1; i < n; i++) device_byte(line[i]);
    if (line[0] == '=' && sscanf(line + 1, "%lf,%lf,%lf", &a, &o, &g) == 3) {
      w.p_a = a;
      w.v[OUT_P] = o / 2; w.v[OUT_N] = -o / 2; w.v[PLUG_P] = g / 2; w.v[PLUG_N] = -g / 2;
      hw_measure(false);
    }
    for (long left = line[0] == '+' ? strtol(line + 1, NULL, 10) : 0; left > 0; left--) {
      world_step();
      device_tick(dev.now + 1);
      device_talk();
      flush_queue();
    }
    if (line[0] == '+') { puts("."); fflush(stdout); }
  }
  return 0;
}

static uint32_t roles_named(char *list) {
  uint32_t roles = 1u << DV;
  for (char *t = strtok(list, ","); t; t = strtok(NULL, ",")) {
    int r = role_named((struct span){ t, strlen(t) });
    if (r < 0 || r == RAFT_ORDER) { fprintf(stderr, "unknown role %s\n", t); exit(2); }
    roles |= 1u << r;
  }
  return roles;
}

int main(int n, char **arg) {
  const char *port = NULL;
  double soc = 0.6;
  char all[] = "cv,mt,lp,is,ct,bl,la,be,tr,r1,r2,r3,r4,su,st";
  uint32_t seed = 1;
  bool in_hand = false;
  dev.roles = roles_named(all);
  for (int i = 1; i < n; i++) {
    bool more = i + 1 < n;
    if (strcmp(arg[i], "--judge") == 0) return judge();
    if (strcmp(arg[i], "--pre") == 0) has_pre = true;
    else if (strcmp(arg[i], "--bench") == 0) in_hand = true;
    else if (more && strcmp(arg[i], "--seed") == 0) seed = (uint32_t)strtoul(arg[++i], NULL, 10);
    else if (more && strcmp(arg[i], "--baud") == 0) baud = (uint32_t)strtoul(arg[++i], NULL, 10);
    else if (more && strcmp(arg[i], "--soc") == 0) soc = strtod(arg[++i], NULL);
    else if (more && strcmp(arg[i], "--roles") == 0) dev.roles = roles_named(arg[++i]);
    else if (more && strcmp(arg[i], "--store") == 0) store_path = arg[++i];
    else if (more && strcmp(arg[i], "--trace") == 0) trace = fopen(arg[++i], "w");
    else if (arg[i][0] != '-' || arg[i][1] == 0) port = arg[i];
    else port = NULL, i = n;
  }
  if (!port && !in_hand) {
    fputs("usage: device PORT|- [--seed N] [--soc 0..1] [--roles cv,mt,...] [--pre] [--baud N] [--store FILE] [--trace FILE]\n"
      "       device --judge < LINES\n", stderr);
    return 2;
  }
  w.noise = seed * 2654435761u | 1u;
  w.breaker = true; w.cable_c = 35; w.a_min = w.o_min = w.g_min = 1e9; w.a_max = w.o_max = w.g_max = -1e9;
  for (int i = 0; i < 8; i++) w.soc[i] = soc + 0.0002 * i;
  device_power_up(0, stored_marks());
  w.lock.closed = out.locked;
  if (in_hand) return bench();
  open_line(port);
  run();
  return 0;
}
