/* Which keys of the drawn piano and of the computer hold a note: fingers, the mouse and keys may hold the
   same one.  Knows no window; one thread. */
#ifndef APP_FINGERS_H
#define APP_FINGERS_H

#include <stdbool.h>
#include <stdint.h>

enum { FINGERS = 10, FINGER_PITCHES = 128 };
enum finger_does {
    FINGER_DOWN,
    FINGER_MOVES,
    FINGER_UP /* lifted, or what it began was cancelled */
};

struct fingers {
    void (*send)(void *user, bool on, int pitch); /* a note begins or ends */
    void *user;
    struct {
        const void *who; /* a touch of the system; NULL: the mouse */
        int pitch;       /* -1: free */
    } finger[FINGERS];
    uint8_t down[FINGER_PITCHES]; /* by how many */
};

void fingers_init(struct fingers *f, void (*send)(void *user, bool on, int pitch), void *user);
/* One more holds the pitch, or one less. */
void fingers_press(struct fingers *f, int pitch);
void fingers_let_go(struct fingers *f, int pitch);
/* `pitch`: of the drawn key under it, or -1.  One that goes down beside the keys plays nothing until it is
   lifted; one that slides off the keys holds the last one; more than FINGERS are not seen. */
void fingers_touch(struct fingers *f, const void *who, enum finger_does does, int pitch);
/* All notes end, whoever holds them. */
void fingers_release(struct fingers *f);

#endif
