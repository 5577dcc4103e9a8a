#include "fingers.h"

#include <string.h>

void fingers_init(struct fingers *f, void (*send)(void *user, bool on, int pitch), void *user)
{
    memset(f, 0, sizeof *f);
    f->send = send;
    f->user = user;
    fingers_release(f);
}

void fingers_press(struct fingers *f, int pitch)
{
    if (f->down[pitch]++ == 0) f->send(f->user, true, pitch);
}

void fingers_let_go(struct fingers *f, int pitch)
{
    if (f->down[pitch] && --f->down[pitch] == 0) f->send(f->user, false, pitch);
}

void fingers_release(struct fingers *f)
{
    for (int pitch = 0; pitch < FINGER_PITCHES; pitch++)
        if (f->down[pitch]) f->send(f->user, false, pitch);
    memset(f->down, 0, sizeof f->down);
    for (int i = 0; i < FINGERS; i++)
        f->finger[i].pitch = -1;
}

/* The one that plays already, else a free one; -1: all ten are down. */
static int finger_of(const struct fingers *f, const void *who)
{
    int free_one = -1;
    for (int i = 0; i < FINGERS; i++) {
        if (f->finger[i].pitch >= 0 && f->finger[i].who == who) return i;
        if (f->finger[i].pitch < 0) free_one = i;
    }
    return free_one;
}

void fingers_touch(struct fingers *f, const void *who, enum finger_does does, int pitch)
{
    int i = finger_of(f, who);
    if (i < 0) return;
    int before = f->finger[i].pitch, now = does == FINGER_UP ? -1 : pitch;
    if (does != FINGER_DOWN && before < 0) return;
    if (does == FINGER_MOVES && now < 0) now = before;
    if (now == before) return;
    if (before >= 0) fingers_let_go(f, before);
    if (now >= 0) fingers_press(f, now);
    f->finger[i].who = who;
    f->finger[i].pitch = now;
}
