/* The parts of live playing: what is opened, and the house that runs beside the live thread. */
#ifndef APP_PLAY_LIVE_PARTS_H
#define APP_PLAY_LIVE_PARTS_H

#include "drive.h"
#include "live_view.h"
#include "narrate.h"
#include "outputs.h"
#include "play_live.h"
#include "play_setup.h"
#include "step_log.h"
#include "undersong/audio.h"
#include "undersong/byte_stream.h"
#include "undersong/event_queue.h"
#include "undersong/live.h"
#include "undersong/midi_ports.h"
#include "undersong/recorder.h"
#include "undersong/typed_keys.h"

#include <pthread.h>
#include <signal.h>

struct live_play {
    const struct play_settings *play;
    /* Where there is a window: its keys, the box that it looks into, and where lines for the player go; all
       NULL without one. */
    struct us_event_queue *window_keys;
    struct us_snapshot_box *box;
    void (*say)(void *user, const char *line);
    void *say_user;
    /* An earlier play whose thread has ended: what it has heard, its clock, its sound and its recorder go on
       in this one, where they fit; NULL: none.  Still to be closed by its owner. */
    struct live_play *before;
    struct play_setup setup;
    struct us_live_settings live_settings;
    struct us_live *live;
    /* Sources. */
    struct performance performance; /* where the player is a file */
    int64_t played_ns; /* ... how far it has been played; the live thread's own, until that has ended */
    bool from_file, from_keys, from_bytes;
    struct us_input input;
    struct us_byte_source bytes;
    struct us_typed_keys keys;
    bool keys_open;
    struct us_midi_ports *ports;
    bool listens; /* a MIDI input is among them */
    /* Sinks. */
    struct us_byte_sink byte_sink;
    bool to_bytes, to_synth;
    const char *midi_names[US_MIDI_OUTPUTS_MAX];
    int midi_count;
    struct us_audio *audio;
    struct us_queue *synth_queue, *file_queue;
    struct outputs outputs;
    struct us_recorder *recorder;
    /* What is printed. */
    struct step_log log;
    struct narrator narrator;
    struct live_view view; /* in its place on a terminal */
    pthread_t thread;
    _Atomic int thread_id;
    atomic_bool done;
};

/* Opens what the command line asks for, in an order that has the clock start last. */
enum us_status live_open(struct live_play *p, struct us_error *error) US_WARN_UNUSED;
void live_close(struct live_play *p);
/* One line to the player, on standard error or in the window; `play` is a struct live_play.  Any thread but
   the live one. */
void live_say(void *play, const char *line);
/* ... then starts the live thread. */
enum us_status live_start(struct live_play *p, struct us_error *error) US_WARN_UNUSED;
/* The house beside the live thread, until that has ended: asks for its priority, prints, writes files.  One
   of `signals` (blocked in all threads) ends it; may be NULL. */
void live_keep_house(struct live_play *p, const sigset_t *signals);
/* After the live thread has ended, by itself or through us_live_stop(): waits for it and writes what is left.
 */
void live_rest(struct live_play *p);
/* ... and closes what was kept and written. */
enum us_status live_finish(struct live_play *p, struct us_error *error) US_WARN_UNUSED;

#endif
