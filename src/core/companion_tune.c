#include "companion_tune.h"

#include <string.h>

/* Where trust starts: the player named the tune; the songbook recognized it. */
static const float TRUST_NAMED = 2, TRUST_RECOGNIZED = 1;
/* A tune of the songbook is recognized when it is this probable, after so many notes at least. */
static const double RECOGNIZED = 0.7;
enum { RECOGNIZED_NOTES = 4, LISTEN_NOTES = 16 };

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

/* The songbook hears the note that waits; where it knows the tune, the tune is followed from there. */
static void listen(struct us_known_tune *t, const struct us_songbook *book)
{
    struct us_unheard_note note = t->unheard;
    t->unheard.waits = false;
    if (!note.waits || t->follows || !book) return;
    if (note.fresh) us_songbook_listen(&t->songbook, book);
    if (t->songbook.heard >= LISTEN_NOTES) return;
    us_songbook_note(&t->songbook, note.at_ns, note.pitch);
    double probability;
    int song = us_songbook_best(&t->songbook, &probability);
    if (song < 0 || probability < RECOGNIZED || t->songbook.heard < RECOGNIZED_NOTES) return;
    int transposition = 0, place = us_songbook_place(&t->songbook, &transposition);
    us_score_follow_from(&t->score, book->songs[song], TRUST_RECOGNIZED, place, transposition, note.at_ns,
                         t->songbook.last_gap_ns);
    t->follows = true;
}

void us_known_tune_rest(struct us_known_tune *t, const struct us_companion_settings *settings)
{
    listen(t, settings->songbook);
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
    listen(t, settings->songbook);
    if (!t->follows) {
        t->unheard = (struct us_unheard_note){at_ns, (uint8_t)pitch, felt->fresh, true};
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
