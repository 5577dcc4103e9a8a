#include "narrate.h"

#include "news.h"

#include <math.h>
#include <string.h>

/* Below this probability of the key it is called a guess. */
static const double SURE = 0.5;

static void describe_chord(const struct us_snapshot *now, char *out, size_t size)
{
    char numeral[12], symbol[12];
    us_chord_numeral(now->chord, now->key, numeral, sizeof numeral);
    us_chord_symbol(now->chord, now->key, symbol, sizeof symbol);
    snprintf(out, size, "%-4s %-4s", numeral, symbol);
}

/* The left hand's notes that this step struck, lowest first as they were sent; empty where it struck none. */
static void describe_struck(const struct us_actions *actions, const struct us_snapshot *now, char *out,
                            size_t size)
{
    size_t used = 0;
    *out = 0;
    for (uint32_t i = 0; i < actions->count; i++) {
        const struct us_action *a = &actions->list[i];
        if (a->kind != US_ACTION_NOTE_ON || a->voice != US_VOICE_LEFT) continue;
        char name[8];
        /* As the player would play it, like the chord beside it. */
        us_pitch_name(a->pitch - now->sound_shift, us_key_flats(now->key), name, sizeof name);
        int wrote = snprintf(out + used, size - used, "%s%s", used ? " " : "", name);
        if (wrote < 0 || (size_t)wrote >= size - used) return;
        used += (size_t)wrote;
    }
}

static void describe_note(const struct narrator *n, const struct us_event *event,
                          const struct us_snapshot *now, char *out, size_t size)
{
    char name[8];
    if (now->key.tonic == US_NO_KEY) {
        snprintf(out, size, "%-4s", us_pitch_name(event->pitch, false, name, sizeof name));
        return;
    }
    struct us_step step = us_key_step(now->key, event->pitch);
    bool flats = step.alter ? step.alter < 0 : us_key_flats(now->key);
    us_pitch_name(event->pitch, flats, name, sizeof name);
    snprintf(out, size, "%-4s %s%d %s", name,
             step.alter < 0   ? "b"
             : step.alter > 0 ? "#"
                              : " ",
             step.number, us_key_syllable(now->key, event->pitch, n->syllables));
}

static void print_place(FILE *out, const struct us_snapshot *now)
{
    double beat = us_metre_beat_quarters(now->metre);
    double count = beat > 0 ? now->bar_quarters / beat : 0;
    if (!now->place_known)
        fprintf(out, "        ");
    else if (now->bar < 0)
        fprintf(out, "pickup  ");
    else if (fabs(count - round(count)) < 0.02)
        fprintf(out, "%4d.%d  ", now->bar + 1, (int)round(count) + 1);
    else
        fprintf(out, "        ");
}

static void tell_news(struct narrator *n, const struct us_actions *actions, const struct us_snapshot *now)
{
    char words[NEWS_SIZE];
    for (uint32_t i = 0; i < actions->count; i++)
        if (*news_words(&actions->list[i], now, words)) fprintf(n->out, "        %s\n", words);
}

/* Whether the metre is to be told: by ear it is a guess until it has held for a bar. */
static bool metre_holds(struct narrator *n, const struct us_snapshot *now)
{
    double bar = us_metre_bar_quarters(now->metre);
    double place = now->bar * bar + now->bar_quarters;
    bool certain = now->knows_tune || us_metre_equal(now->metre, n->metre);
    if (!now->place_known) return certain;
    if (certain || !us_metre_equal(now->metre, n->guess) || place < n->guess_from) {
        n->guess = now->metre;
        n->guess_from = place;
    }
    return certain || place - n->guess_from >= bar;
}

/* The key and the metre when they have changed; a key that rests on a note or two is called a guess. */
static void tell_heard(struct narrator *n, const struct us_snapshot *now)
{
    char key[24], metre[12];
    bool sure = now->key_sure >= SURE, holds = metre_holds(n, now);
    bool other_key = !us_key_equal(now->key, n->key);
    bool other_metre = holds && !us_metre_equal(now->metre, n->metre);
    if (!other_key && !(sure && (other_metre || !n->sure))) return;
    us_key_name(now->key, key, sizeof key);
    us_metre_name(now->metre, metre, sizeof metre);
    if (sure && (other_key || !n->sure))
        fprintf(n->out, holds ? "        heard as %s, %s\n" : "        heard as %s\n", key, metre);
    else if (sure)
        fprintf(n->out, "        counted in %s\n", metre);
    else
        fprintf(n->out, "        perhaps %s\n", key);
    n->key = now->key;
    n->sure = sure;
    if (sure && holds) n->metre = now->metre;
}

/* The tune, once it is known, and that it was another one after all. */
static void tell_tune(struct narrator *n, const struct us_snapshot *now)
{
    if (now->knows_tune == n->knows_tune) return;
    n->knows_tune = now->knows_tune;
    if (now->knows_tune)
        fprintf(n->out, "        this is %s: its own chords come\n",
                *now->title ? now->title : "a tune that is known");
    else
        fprintf(n->out, "        that is another tune: chords by ear again\n");
}

void narrate(struct narrator *n, const struct us_event *event, const struct us_actions *actions,
             const struct us_snapshot *now)
{
    char struck[64], note[32] = "", chord[32] = "", words[NEWS_SIZE];
    if (!n->began) {
        fprintf(n->out, "%-8s%-16s%-11s%s\n", "bar", "you play", "chord", "left hand plays");
        n->began = true;
        n->key.tonic = US_NO_KEY;
        if (*first_words(now, words)) fprintf(n->out, "        %s\n", words);
    }
    tell_news(n, actions, now);
    describe_struck(actions, now, struck, sizeof struck);
    bool played = event->kind == US_EVENT_NOTE_ON && event->velocity;
    if (!played && !*struck) return;
    tell_heard(n, now);
    tell_tune(n, now);
    if (played) describe_note(n, event, now, note, sizeof note);
    if (*struck) describe_chord(now, chord, sizeof chord);
    /* What the learner's left hand strikes a moment early belongs to the next beat: it stands without a
     * place. */
    if (now->learner_note)
        fprintf(n->out, "  left  ");
    else
        print_place(n->out, now);
    fprintf(n->out, *struck ? "%-16s%-11s%s\n" : "%s\n", *note ? note : "(held)", chord, struck);
    fflush(n->out);
}
