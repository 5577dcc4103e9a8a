/* The parts of the window: the session behind it, the picture, the hands on it, the controls, and what it
   remembers.  All but the session's own threads run on GTK's main thread. */
#ifndef APP_STAND_PARTS_H
#define APP_STAND_PARTS_H

#include "fingers.h"
#include "play_live_parts.h"
#include "port_list.h"
#include "stand.h"
#include "stand_reading.h"
#include "undersong/midi_names.h"
#include "undersong/scene.h"

#include <gtk/gtk.h>
#include <limits.h>

enum {
    STAND_NAME_SIZE = PORT_NAME_SIZE,
    STAND_PHRASE_SIZE = 24,
    STAND_PARTS_MAX = 64,
    STAND_KEYS_SIZE = 400
};

#define STAND_PATCH "front-room-piano" /* as long as nothing else is chosen */

/* What the player has chosen; remembered from one time to the next. */
struct stand_choices {
    char input[STAND_NAME_SIZE]; /* "": the first MIDI keyboard there is; "-": none, the computer's keys alone
                                  */
    char output[STAND_NAME_SIZE]; /* a MIDI output's name; "": none */
    char patch[64];
    char tune[PATH_MAX];            /* a file; "": none */
    char folder[PATH_MAX];          /* where a file was last opened or saved; "": none was */
    char phrase[STAND_PHRASE_SIZE]; /* of the tune, as --phrase takes it; "": all of it */
    int texture, chords, change, second, share, pedal, drill;
    int sound_shift; /* semitones from the key that is played to the one in which it is heard */
    double volume;   /* 0 to 1 */
    bool left_hand, sound, dark, controls_shown, more_shown;
};
void stand_choices_load(struct stand_choices *c);
void stand_choices_save(const struct stand_choices *c);

/* What plays behind the window. */
struct stand_session {
    struct play_settings play;
    struct stand_choices used;
    const char *to[2], *default_patch;
    char first_input[STAND_NAME_SIZE], sound_shift[8];
    struct live_play *live; /* NULL where none could be opened */
    pthread_t house;
};

enum { STAND_CODES = 256 };
struct stand_hands {
    uint8_t by_code[STAND_CODES]; /* pitch + 1 that a key of the computer holds, by its place */
    struct fingers fingers;
    int octave;
};

struct stand_controls {
    GtkWidget *bar, *row, *more, *more_button,
        *message; /* `row`: where controls are put while they are built */
    GtkWidget *input, *output, *texture, *left_hand, *lock, *tune, *hear_in, *dark;
    GtkStringList *inputs, *outputs;
    struct port_list input_list, output_list; /* as they are shown */
    bool following;           /* the controls are being moved by the program, not by the player */
    uint8_t texture_followed; /* the left hand that was followed last */
};

/* What there is to choose from: the first row is the whole tune. */
struct stand_parts {
    struct stand_part {
        char phrase[STAND_PHRASE_SIZE], words[80];
        int from_bar, to_bar; /* 0, 0: the whole tune */
    } row[STAND_PARTS_MAX];
    int rows;
};

/* What is practised. */
struct stand_practice {
    GtkWidget *phrases;
    GtkStringList *words;
    struct stand_parts parts; /* as they are shown */
    int drill;                /* what `keys` were made for, and with which tune */
    char *tune, keys[STAND_KEYS_SIZE];
};

/* The page with what was kept, in the place of the picture. */
struct stand_review {
    GtkWidget *page, *heading, *advice, *practise, *picture, *story, *close;
    struct stand_reading *reading; /* what it shows; NULL: nothing yet */
    char *tune;                    /* against which it was read, or is being read; NULL: none */
    unsigned asked;                /* how often it was opened: an older answer is let go */
    unsigned fitting;              /* an idle that will fit the height; 0: none */
};

struct stand {
    const struct stand_settings *settings;
    struct stand_choices choices, remembered;
    struct stand_session session;
    struct stand_hands hands;
    struct stand_controls controls;
    struct stand_review review;
    struct stand_practice practice;
    struct us_snapshot_box box;
    struct us_event_queue keys;
    struct us_midi_names *names;
    GtkWidget *window, *pages, *picture; /* `pages` shows the picture or the review */
    GMainLoop *loop;
    struct stand *
        *reader; /* whom later answers are for: shared with them, and NULL when the window is gone */
    struct us_scene_request request;
    struct us_scene scene;
    struct us_snapshot seen;
    bool tune_over; /* another tune was chosen than the command line's */
    bool from_over; /* the file that was to be played has ended */
    char described[160];
    char said[256]; /* a line from another thread, under `mutex` */
    char shown_line[256];
    gint64 shown_us; /* when it was said */
    GMutex mutex;
};

/* The session: opened from the choices and the command line.  An error leaves none behind. */
enum us_status stand_session_open(struct stand *s, struct us_error *error) US_WARN_UNUSED;
/* Ends it and closes what was kept and written; where there is none, nothing is done. */
enum us_status stand_session_end(struct stand *s, struct us_error *error) US_WARN_UNUSED;
/* Another input, output, sound or tune: the session begins anew, the window stays.  Says what fails. */
void stand_session_again(struct stand *s);
/* The file of the tune that is open; NULL: none is. */
const char *stand_tune(const struct stand *s);
/* A setting that changes while playing. */
void stand_session_control(struct stand *s, enum us_control control, int value);
void stand_session_panic(struct stand *s);
/* Loudness and on/off from the choices. */
void stand_session_volume(struct stand *s);
/* It has ended by itself: a file that was played - now it is the player's turn -, or nobody reads standard
   output any more. */
bool stand_session_over(const struct stand *s);

/* Keys of the computer, mouse and touch on the drawn keys, into s->keys. */
void stand_hands_attach(struct stand *s);
void stand_hands_release(struct stand *s);

/* A button's words, with the letter that presses it together with Alt; GTK's own way spells the underscore
   out to those who hear the name. */
GtkWidget *stand_labelled(GtkWidget *button, const char *words);
/* The bar of controls; `stand_controls_follow` moves them after what has changed elsewhere (a pedal). */
GtkWidget *stand_controls_build(struct stand *s);
/* The controls under More. */
void stand_show_more(struct stand *s);
void stand_controls_follow(struct stand *s, const struct us_snapshot *now);
/* The lists of ports: `add` puts a control into the bar. */
void stand_ports_build(struct stand *s, void (*add)(struct stand *s, const char *caption, const char *spoken,
                                                    GtkWidget *control));
void stand_controls_ports(struct stand *s);
/* What they offer, a line a list, the chosen row with a star. */
void stand_ports_dump(const struct stand *s, GString *out);
/* The list of instruments, in the same way; those of another day that are gone are told and forgotten. */
void stand_patches_build(struct stand *s, void (*add)(struct stand *s, const char *caption,
                                                      const char *spoken, GtkWidget *control));
/* Ask for a file; `take` gets its path, unless the player thinks better of it. */
void stand_ask_open(struct stand *s, const char *title, GtkFileFilter *filter,
                    void (*take)(struct stand *s, const char *path));
void stand_ask_save(struct stand *s, const char *title, const char *name,
                    void (*take)(struct stand *s, const char *path));
void stand_open_tune(struct stand *s);
void stand_keep_copy(struct stand *s);
void stand_save_sheet(struct stand *s);

/* The phrases to choose from; `follow` shows those of the tune that is open now. */
GtkWidget *stand_practice_build(struct stand *s);
void stand_practice_follow(struct stand *s);
/* The row with the phrase that a bar is in, as the page counts it; 0: there is none to practise. */
int stand_practice_row(const struct stand *s, int bar);
void stand_practice_choose(struct stand *s, int row);
/* The keys round which the tune is led, as --drill takes them; NULL: it is not. */
const char *stand_practice_keys(struct stand *s);
void stand_practice_finish(struct stand *s);

/* The review: read anew on a thread of its own each time it is opened. */
GtkWidget *stand_review_build(struct stand *s);
void stand_review_open(struct stand *s);
/* Reads it anew where it is shown and another tune is open now. */
void stand_review_follow(struct stand *s);
void stand_review_close(struct stand *s);
bool stand_review_shown(const struct stand *s);
void stand_review_scroll(struct stand *s, double pages);
void stand_review_finish(struct stand *s);

/* While the window is open: where its screen is lost, everything is released and kept before the program is
   ended. */
void stand_display_watch(struct stand *s);
void stand_display_leave(void);

/* For --dump-scene: what is shown, as text. */
void stand_dump(struct stand *s);
/* One line to the player, below the picture. */
void stand_say(struct stand *s, const char *line);
void stand_set_dark(struct stand *s, bool dark);
void stand_toggle_full_screen(struct stand *s);
void stand_show_controls(struct stand *s, bool shown);

#endif
