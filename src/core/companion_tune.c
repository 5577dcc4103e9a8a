#include "companion_tune.h"

#include <string.h>

/* Where trust starts: the player named the tune; the songbook recognized it. */
static const float TRUST_NAMED = 2, TRUST_RECOGNIZED = 1;
/* A tune of the songbook is recognized when it is this probable, after so many notes at least. */
static const double RECOGNIZED = 0.7;
enum { RECOGNIZED_NOTES = 4, LISTEN_NOTES = 16 };
/* Between notes the songbook is gone through in small steps, so that none takes long. */
enum { GUESSES_A_STEP = 150 };

static void follow_named(struct us_known_tune *t, const struct us_companion_settings *settings)
{
    us_score_follow(&t->score, settings->tune, TRUST_NAMED);
    us_score_loop(&t->score, settings->loop.first, settings->loop.last);
}

void us_known_tune_init(struct us_known_tune *t, const struct us_companion_settings *settings)
{
    memset(t, 0, sizeof *t);
    if (settings->tune)
        follow_named(t, settings);
    else if (settings->songbook)
        us_songbook_listen(&t->songbook, settings->songbook);
    t->follows = settings->tune != NULL;
}

/* Goes on through the songbook with the last note; where it knows the tune, the tune is followed from there.
 */
static void listen(struct us_known_tune *t, const struct us_songbook *book, int guesses)
{
    if (!t->songbook.note.waits || !us_songbook_work(&t->songbook, guesses) || t->follows) return;
    double probability;
    int song = us_songbook_best(&t->songbook, &probability);
    if (song < 0 || probability < RECOGNIZED || t->songbook.heard < RECOGNIZED_NOTES) return;
    int transposition = 0, place = us_songbook_place(&t->songbook, &transposition);
    us_score_follow_from(&t->score, book->songs[song], TRUST_RECOGNIZED, place, transposition,
                         t->songbook.last_ns, t->songbook.last_gap_ns);
    t->follows = true;
}

void us_known_tune_tick(struct us_known_tune *t, const struct us_companion_settings *settings)
{
    listen(t, settings->songbook, GUESSES_A_STEP);
}

int64_t us_known_tune_due(const struct us_known_tune *t, int64_t now_ns)
{
    return t->songbook.note.waits ? now_ns + US_SOON_NS : INT64_MAX;
}

/* A tune of the songbook that turns out to be another one is let go. */
static void let_go(struct us_known_tune *t, const struct us_songbook *book)
{
    t->follows = t->leads = t->beat.running = false;
    us_songbook_listen(&t->songbook, book);
    t->songbook.heard = LISTEN_NOTES; /* not before the player starts anew */
}

void us_known_tune_note(struct us_known_tune *t, const struct us_companion_settings *settings, int64_t at_ns,
                        int pitch, struct us_felt *felt)
{
    listen(t, settings->songbook, US_SONG_GUESSES * 2); /* what the ticks have left over */
    if (!t->follows) {
        if (!settings->songbook) return;
        if (felt->fresh) us_songbook_listen(&t->songbook, settings->songbook);
        if (t->songbook.heard < LISTEN_NOTES) us_songbook_hear(&t->songbook, at_ns, pitch);
        return;
    }
    us_score_note(&t->score, at_ns, pitch);
    t->leads = t->score.trust > 0;
    if (!t->leads) {
        t->beat.running = false;
        if (!settings->tune && t->score.trust < -1) let_go(t, settings->songbook);
        return;
    }
    us_score_beat_onset(&t->beat, &t->score, at_ns, felt->quarter_ns, felt);
}

struct us_chord us_known_tune_chord(const struct us_known_tune *t)
{
    if (!t->leads) return (struct us_chord){US_NO_CHORD, US_CHORD_MAJ};
    return us_score_chord(&t->score, t->beat.here);
}
