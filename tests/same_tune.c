#include "same_tune.h"

#include "support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void expect_same_notes(const struct us_note *a, size_t a_count, const struct us_note *b,
                              size_t b_count, const char *what)
{
    for (size_t i = 0; i < a_count && i < b_count; i++)
        ck_assert_msg(fabs(a[i].at - b[i].at) < 1e-6 && fabs(a[i].len - b[i].len) < 1e-6 &&
                          a[i].pitch == b[i].pitch,
                      "%.2500s\nnote %zu: %d at %.4f for %.4f, then %d at %.4f for %.4f", what, i, a[i].pitch,
                      a[i].at, a[i].len, b[i].pitch, b[i].at, b[i].len);
    ck_assert_msg(a_count == b_count, "%.2500s\n%zu notes, then %zu", what, a_count, b_count);
}

static void expect_same_bars(const struct us_tune *a, const struct us_tune *b, const char *what)
{
    ck_assert_msg(a->bar_count == b->bar_count, "%.2500s\n%zu bars, then %zu", what, a->bar_count,
                  b->bar_count);
    for (size_t i = 0; i < a->bar_count; i++) {
        const struct us_bar *x = &a->bars[i], *y = &b->bars[i];
        ck_assert_msg(fabs(x->at - y->at) < 1e-6 && fabs(x->len - y->len) < 1e-6 &&
                          x->metre.top == y->metre.top && x->metre.bottom == y->metre.bottom &&
                          us_key_equal(x->key, y->key),
                      "%.2500s\nbar %zu differs", what, i);
    }
}

void expect_same_tune(const struct us_tune *a, const struct us_tune *b, const char *what)
{
    expect_same_notes(a->notes, a->note_count, b->notes, b->note_count, what);
    expect_same_notes(a->second, a->second_count, b->second, b->second_count, what);
    expect_same_bars(a, b, what);
    ck_assert_msg(a->chord_count == b->chord_count, "%.2500s\n%zu chords, then %zu", what, a->chord_count,
                  b->chord_count);
    for (size_t i = 0; i < a->chord_count; i++)
        ck_assert_msg(fabs(a->chords[i].at - b->chords[i].at) < 1e-6 &&
                          fabs(a->chords[i].len - b->chords[i].len) < 1e-6 &&
                          us_chord_equal(a->chords[i].chord, b->chords[i].chord),
                      "%.2500s\nchord %zu differs", what, i);
    ck_assert_msg(a->slur_count == b->slur_count, "%.2500s\n%zu slurs, then %zu", what, a->slur_count,
                  b->slur_count);
    for (size_t i = 0; i < a->slur_count; i++)
        ck_assert_msg(fabs(a->slurs[i].at - b->slurs[i].at) < 1e-6 &&
                          fabs(a->slurs[i].len - b->slurs[i].len) < 1e-6,
                      "%.2500s\nslur %zu differs", what, i);
    ck_assert_msg(!a->spelling == !b->spelling, "%.2500s\nspelled in one only", what);
    for (size_t i = 0; i < a->note_count && a->spelling; i++)
        ck_assert_msg(a->spelling[i] == b->spelling[i], "%.2500s\nnote %zu is spelled %d, then %d", what, i,
                      a->spelling[i], b->spelling[i]);
    ck_assert_msg(us_key_equal(a->key, b->key), "%.2500s\nthe key differs", what);
    ck_assert_msg(a->metre.top == b->metre.top && a->metre.bottom == b->metre.bottom,
                  "%.2500s\nthe metre differs", what);
    ck_assert_msg(fabs(a->pickup - b->pickup) < 1e-6, "%.2500s\npickup %g, then %g", what, a->pickup,
                  b->pickup);
    ck_assert_msg(fabs(a->quarters_a_minute - b->quarters_a_minute) < 1e-4, "%.2500s\ntempo %g, then %g",
                  what, a->quarters_a_minute, b->quarters_a_minute);
    ck_assert_str_eq(a->title, b->title);
}

struct dice {
    uint64_t state;
    char *out;
    size_t size, used;
};

static unsigned roll(struct dice *dice, unsigned sides)
{
    dice->state = dice->state * 6364136223846793005u + 1442695040888963407u;
    return (unsigned)(dice->state >> 33) % sides;
}

static void put(struct dice *dice, const char *text)
{
    if (dice->used + strlen(text) + 1 >= dice->size) return;
    memcpy(dice->out + dice->used, text, strlen(text) + 1);
    dice->used += strlen(text);
}

static void put_note(struct dice *dice, const char *length)
{
    static const char *const NOTES[] = {"C", "D", "E", "F", "G", "A",  "B", "c",
                                        "d", "e", "f", "g", "z", "B,", "c'"};
    static const char *const SIGNS[] = {"", "", "", "", "", "", "", "^", "_", "="};
    const char *note = NOTES[roll(dice, 15)];
    if (*note != 'z') put(dice, SIGNS[roll(dice, 10)]);
    put(dice, note);
    put(dice, length);
    if (roll(dice, 12) == 0 && *note != 'z') put(dice, "-");
}

/* Fills `eighths` of a bar. */
static void put_bar(struct dice *dice, int eighths, bool chords)
{
    static const char *const CHORDS[] = {"\"C\"",  "\"G7\"",   "\"Dm\"",  "\"F#m7\"",
                                         "\"Bb\"", "\"Bdim\"", "\"N.C.\""};
    static const char *const LENGTHS[] = {"", "", "2", "3", "4", "5"};
    while (eighths > 0) {
        if (chords && roll(dice, 5) == 0) put(dice, CHORDS[roll(dice, 7)]);
        unsigned kind = roll(dice, 12);
        if (kind == 0 && eighths >= 2) {
            put(dice, "(3");
            put_note(dice, ""), put_note(dice, ""), put_note(dice, "");
            eighths -= 2;
        } else if (kind == 1 && eighths >= 2) {
            put(dice, "(3:2:2");
            put_note(dice, "2"), put_note(dice, "");
            eighths -= 2;
        } else if (kind == 2 && eighths >= 4) {
            put(dice, "(5:4:5");
            for (int i = 0; i < 5; i++)
                put_note(dice, "");
            eighths -= 4;
        } else if (kind == 3 && eighths >= 2) {
            put_note(dice, "3/");
            put_note(dice, "/");
            eighths -= 2;
        } else if (kind == 4) {
            put_note(dice, "/");
            put_note(dice, "/");
            eighths--;
        } else {
            int length = 1 + (int)roll(dice, 5);
            if (length > eighths) length = eighths;
            put_note(dice, length == 1 ? "" : LENGTHS[length]);
            eighths -= length;
        }
    }
}

static void put_voice(struct dice *dice, int eighths, int pickup, bool melody, uint64_t form)
{
    struct dice shape = {.state = form};
    if (pickup) {
        put_bar(dice, pickup, false);
        put(dice, "|");
    }
    for (int part = 0; part < 2; part++) {
        bool repeat = roll(&shape, 3) > 0, endings = repeat && roll(&shape, 2);
        if (repeat) put(dice, "|:");
        for (int bar = 0; bar < 4; bar++) {
            if (endings && bar == 3) put(dice, "1");
            put_bar(dice, eighths, melody);
            put(dice, endings && bar == 3 ? ":|2" : bar == 3 ? (repeat ? ":|" : "||") : "|");
            if (bar == 1 && melody && roll(dice, 3) == 0) put(dice, "\n");
        }
        if (endings) {
            put_bar(dice, eighths, melody);
            put(dice, part ? "|]" : "||");
        }
        put(dice, "\n");
    }
}

void random_abc(unsigned seed, char *out, size_t size)
{
    static const struct {
        const char *metre;
        int eighths;
    } METRES[] = {{"4/4", 8}, {"3/4", 6}, {"6/8", 6}, {"2/4", 4}, {"9/8", 9}, {"5/4", 10}, {"2/2", 8}};
    static const char *const KEYS[] = {"C", "G", "Em", "Bb", "Ddor", "Amix", "F#m", "Ab", "E", "Cm", "none"};
    struct dice dice = {.state = seed * 977u + 1, .out = out, .size = size};
    unsigned metre = roll(&dice, 7);
    bool two = roll(&dice, 4) == 0;
    uint64_t form = dice.state;
    int pickup = roll(&dice, 2) ? 1 + (int)roll(&dice, 3) : 0;
    dice.used = (size_t)snprintf(out, size, "X:1\nT:Seed %u\nM:%s\nL:1/8\nQ:1/4=%u\nK:%s\n%s", seed,
                                 METRES[metre].metre, 60 + roll(&dice, 90), KEYS[roll(&dice, 11)],
                                 two ? "V:1\n" : "");
    put_note(&dice, "");
    put(&dice, "|");
    put_voice(&dice, METRES[metre].eighths, pickup, true, form);
    if (!two) return;
    put(&dice, "V:2\n");
    put_note(&dice, "");
    put(&dice, "|");
    put_voice(&dice, METRES[metre].eighths, pickup, false, form);
}
