#include "live_view.h"

#include "screen.h"
#include "undersong/pitch.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

#include <term.h> /* last: its macros have everyday names */

enum { LINES_SHOWN = 5, WIDTH_MAX = 100, NARROW = 60 };

static FILE *terminal;

static int put_byte(int byte)
{
    return fputc(byte, terminal);
}

static void put(const char *sequence)
{
    tputs(sequence, 1, put_byte);
}

void live_view_init(struct live_view *v, FILE *out)
{
    int error;
    memset(v, 0, sizeof *v);
    v->out = terminal = out;
    v->on = isatty(fileno(out)) && setupterm(NULL, fileno(out), &error) == 0 && cursor_up && clr_eos;
}

void live_view_take(struct live_view *v, const struct step_log_row *row)
{
    if (!v->on) return;
    v->now = row->now;
    v->changed = true;
    if (!v->drawn && !*v->news) first_words(&row->now, v->news);
    size_t used = 0;
    for (uint32_t i = 0; i < row->count; i++) {
        char pitch[8];
        if (is_news(&row->told[i])) {
            news_words(&row->told[i], &row->now, v->news);
            continue;
        }
        /* As the player would play it, like the names beside it. */
        us_pitch_name(row->told[i].pitch - row->now.sound_shift, us_key_flats(row->now.key), pitch,
                      sizeof pitch);
        int wrote = snprintf(v->struck + used, sizeof v->struck - used, used ? " %s" : "%s", pitch);
        if (wrote < 0 || (size_t)wrote >= sizeof v->struck - used) break;
        used += (size_t)wrote;
    }
}

/* "1 (2) 3": the beats, and which one it is. */
static void beats_text(const struct us_snapshot *now, char *out, size_t size)
{
    int count = us_metre_beats(now->metre);
    double beat = us_metre_beat_quarters(now->metre);
    int here = beat > 0 ? (int)floor(now->bar_quarters / beat + 0.01) : 0;
    size_t used = 0;
    *out = 0;
    for (int i = 0; i < count && used + 8 < size; i++)
        used += (size_t)snprintf(out + used, size - used, i == here ? "(%d)" : " %d ", i + 1);
}

static void heading(const struct us_snapshot *now, char *out, size_t size)
{
    char name[24], key[32], metre[8], beats[64];
    if (now->key.tonic == US_NO_KEY) {
        snprintf(out, size, "listening for the key");
        return;
    }
    us_key_name(now->key, name, sizeof name);
    snprintf(key, sizeof key, "%s%s", name, now->key_locked ? " (held)" : "");
    us_metre_name(now->metre, metre, sizeof metre);
    beats_text(now, beats, sizeof beats);
    if (screen_width() < NARROW)
        snprintf(out, size, now->bar < 0 ? "%s  pickup%.0d  %s %s" : "%s  bar %d  %s %s", key, now->bar + 1,
                 metre, now->waiting ? "waiting" : beats);
    else if (now->bar < 0)
        snprintf(out, size, "%-16s  pickup     %s  %s", key, metre, beats);
    else
        snprintf(out, size, "%-16s  bar %-5d  %s  %s%s%s%s", key, now->bar + 1, metre, beats,
                 now->knows_tune ? "  " : "", now->knows_tune ? now->title : "",
                 now->waiting ? "  waiting for you" : "");
}

static void right_hand(const struct live_view *v, char *out, size_t size)
{
    const struct us_snapshot *now = &v->now;
    char name[8];
    *out = 0;
    if (now->melody < 0) return;
    us_pitch_name(now->melody, us_key_flats(now->key), name, sizeof name);
    if (now->key.tonic == US_NO_KEY) {
        snprintf(out, size, "right hand  %s", name);
        return;
    }
    struct us_step step = us_key_step(now->key, now->melody);
    snprintf(out, size, "right hand  %s%d %-4s %s",
             step.alter > 0   ? "#"
             : step.alter < 0 ? "b"
                              : "",
             step.number, us_key_syllable(now->key, now->melody, v->syllables), name);
}

static void chord_line(const struct us_snapshot *now, char *out, size_t size)
{
    char numeral[12], symbol[12], other[12];
    *out = 0;
    if (now->chord.root == US_NO_CHORD || now->key.tonic == US_NO_KEY) return;
    us_chord_numeral(now->chord, now->key, numeral, sizeof numeral);
    us_chord_symbol(now->chord, now->key, symbol, sizeof symbol);
    int used = snprintf(out, size, "chord       %-4s %-5s", numeral, symbol);
    if (used < 0 || !now->alternatives || now->alternative_probability[0] < 0.05) return;
    us_chord_numeral(now->alternative[0], now->key, other, sizeof other);
    snprintf(out + used, size - (size_t)used, "  %s would do too", other);
}

/* Bytes of the letters (UTF-8) that so many columns have room for: one of three bytes or more may take two,
   as those of eastern Asia do. */
static int fitting(const char *text, int room)
{
    int bytes = 0;
    for (int used = 0; text[bytes]; bytes++) {
        if ((text[bytes] & 0xC0) == 0x80) continue;
        used += (unsigned char)text[bytes] >= 0xE0 ? 2 : 1;
        if (used > room) break;
    }
    return bytes;
}

static void put_line(struct live_view *v, const char *text)
{
    fprintf(v->out, "%.*s", fitting(text, v->width - 1), text);
    if (++v->printed < LINES_SHOWN) fputc('\n', v->out);
}

static void put_lines(struct live_view *v)
{
    char text[WIDTH_MAX * 2];
    heading(&v->now, text, sizeof text);
    put_line(v, text);
    right_hand(v, text, sizeof text);
    put_line(v, text);
    chord_line(&v->now, text, sizeof text);
    put_line(v, text);
    snprintf(text, sizeof text, v->now.left_hand_on ? "left hand   %s" : "left hand   off", v->struck);
    put_line(v, text);
    put_line(v, v->news);
}

/* From where the cursor is: at the beginning of the view's first line, or of an empty one. */
static void clear(const struct live_view *v)
{
    fputc('\r', v->out);
    put(clr_eos);
}

/* Between two drawings the cursor waits on the first line: a terminal that is made narrower may break the
   lines anew, and then none of them is where it was but the one with the cursor. */
void live_view_show(struct live_view *v)
{
    if (!v->on) return;
    bool same_width = !v->drawn || screen_width() == v->width;
    bool interrupted = atomic_exchange(&v->interrupted, false);
    if (!v->changed && same_width && !interrupted) return;
    flockfile(v->out);
    v->width = screen_width();
    v->drawn = true;
    v->changed = false;
    v->printed = 0;
    clear(v);
    put_lines(v);
    fputc('\r', v->out);
    for (int i = 1; i < LINES_SHOWN; i++)
        put(cursor_up);
    fflush(v->out);
    funlockfile(v->out);
}

void live_view_say(struct live_view *v, const char *line)
{
    bool on = v->on; /* else there is no stream to lock */
    if (on) flockfile(v->out);
    if (on && v->drawn) {
        clear(v);
        fflush(v->out);
        v->drawn = false;
        atomic_store(&v->interrupted, true);
    }
    fprintf(stderr, "undersong: %s\n", line);
    if (on) funlockfile(v->out);
}

void live_view_leave(struct live_view *v)
{
    for (int i = 0; i < LINES_SHOWN && v->on && v->drawn; i++)
        fputc('\n', v->out);
    if (v->on) fflush(v->out);
    v->on = false;
}
