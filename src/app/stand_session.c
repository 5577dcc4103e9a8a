/* What plays behind the window: live playing as `play` does it, with the window's keys as its first source.
 */
#include "stand_parts.h"

#include "commands.h"
#include "undersong/midi_names.h"

#include <stdlib.h>
#include <string.h>

static const char *const SECOND_VOICES[] = {"none", "third", "sixth", "round:auto"};
static const char *const SHARES[] = {"100", "auto", "99", "66", "33", "0"};
static const char *const PEDALS[] = {NULL, "cc67=texture", "cc66=texture", "A0=texture", "C2=texture"};

/* On another thread: shown at the next frame. */
static void say(void *user, const char *line)
{
    struct stand *s = user;
    g_mutex_lock(&s->mutex);
    g_strlcpy(s->said, line, sizeof s->said);
    g_mutex_unlock(&s->mutex);
}

static enum us_status settle(struct stand *s, struct us_error *error)
{
    struct play_settings *play = &s->session.play;
    s->session.used = s->choices; /* the live thread looks at its names while the player chooses others */
    const struct stand_choices *c = &s->session.used;
    bool help = false;
    enum us_status status = options_parse(&command_play, 0, NULL, play, &help, error);
    if (status) return status;
    const char *from = s->from_over ? NULL : s->settings->from;
    play->from = from ? from : *c->input && strcmp(c->input, "-") != 0 ? c->input : NULL;
    play->to = s->settings->to;
    if (!play->to.count && *c->output) {
        s->session.to[0] = "synth";
        s->session.to[1] = c->output;
        play->to = (struct text_list){s->session.to, 2};
    }
    play->tune = *c->tune ? c->tune : NULL;
    if (s->settings->tune && !s->tune_over) play->tune = s->settings->tune;
    play->drill = stand_practice_keys(s);
    play->audio = s->settings->audio;
    s->session.default_patch = play->patch;
    if (*c->patch) play->patch = c->patch;
    play->texture = c->texture;
    play->chords = c->chords;
    play->change = c->change;
    play->second_voice = SECOND_VOICES[c->second];
    play->share = SHARES[c->share];
    play->switch_key = PEDALS[c->pedal];
    play->left_hand_off = !c->left_hand;
    g_snprintf(s->session.sound_shift, sizeof s->session.sound_shift, "%d", c->sound_shift);
    play->keyboard_transpose = s->session.sound_shift;
    play->quiet = true;
    play->built_in = s->settings->built_in;
    return US_STATUS_OK;
}

/* A keyboard, not the system's own through port. */
static void take_first(void *user, const char *name, bool input)
{
    char *first = user;
    if (input && !*first && !us_midi_is_through(name)) g_strlcpy(first, name, STAND_NAME_SIZE);
}

static void *keep_house(void *arg)
{
    live_keep_house(arg, NULL);
    return NULL;
}

static void show_start(struct stand *s, struct live_play *p)
{
    us_companion_snapshot(p->setup.companion, us_snapshot_box_back(&s->box));
    us_snapshot_box_publish(&s->box);
}

static void destroy(struct live_play *p)
{
    if (p->recorder) us_recorder_close(p->recorder, NULL);
    live_close(p);
    free(p);
}

/* `before`: see struct live_play. */
static enum us_status start(struct stand *s, const char *from, struct live_play *before,
                            struct us_error *error)
{
    struct live_play *p = calloc(1, sizeof *p);
    if (!p) return us_error_no_memory(error);
    s->session.play.from = from;
    p->play = &s->session.play;
    p->window_keys = &s->keys;
    p->box = &s->box;
    p->say = say;
    p->say_user = s;
    p->before = before;
    enum us_status status = live_open(p, error);
    if (!status) show_start(s, p);
    if (!status) status = live_start(p, error);
    if (!status && pthread_create(&s->session.house, NULL, keep_house, p)) {
        us_live_stop(p->live);
        status = live_finish(p, error);
        if (!status) status = us_error_set(error, US_STATUS_NO_MEMORY, "too many programs running");
    }
    if (!status) {
        p->before = NULL;
        s->session.live = p;
        return US_STATUS_OK;
    }
    destroy(p);
    return status;
}

/* A phrase that was chosen another day need not be there any more: then it is the whole tune. */
static enum us_status start_phrase(struct stand *s, const char *from, struct live_play *before,
                                   struct us_error *error)
{
    struct play_settings *play = &s->session.play;
    const char *phrase = s->session.used.phrase;
    play->phrase = play->tune && *phrase ? phrase : NULL;
    enum us_status status = start(s, from, before, error);
    if (!status || !play->phrase) return status;
    play->phrase = NULL;
    return start(s, from, before, error);
}

static enum us_status open_after(struct stand *s, struct live_play *before, struct us_error *error)
{
    enum us_status status = settle(s, error);
    if (status) return status;
    if (!s->session.play.from && strcmp(s->choices.input, "-") != 0) {
        *s->session.first_input = 0;
        us_midi_names_list(s->names, take_first, s->session.first_input);
        if (*s->session.first_input) s->session.play.from = s->session.first_input;
    }
    return start_phrase(s, s->session.play.from, before, error);
}

/* A keyboard of another day is told in the window's own words. */
static void say_what_fails(struct stand *s, const struct us_error *error)
{
    const char *input = s->choices.input;
    bool gone = *input && strcmp(input, "-") != 0 && !port_list_can_open(&s->controls.input_list, input);
    char line[STAND_NAME_SIZE + 100];
    g_snprintf(line, sizeof line,
               "%s is not there: switch it on, or play on the computer's keys and the mouse", input);
    stand_say(s, gone ? line : error->text);
}

/* What was chosen in the window cannot be had: says why, and lets the player play without it - first without
   the ports, then with nothing but the window's own keys. */
static enum us_status open_less(struct stand *s, struct live_play *before, struct us_error *error)
{
    struct play_settings *play = &s->session.play;
    say_what_fails(s, error);
    play->to = s->settings->to;
    enum us_status status = start_phrase(s, NULL, before, error);
    if (!status || !(play->tune || play->patch)) return status;
    play->tune = NULL;
    play->patch = s->session.default_patch;
    stand_say(s, error->text);
    return start(s, NULL, before, error);
}

enum us_status stand_session_open(struct stand *s, struct us_error *error)
{
    const struct stand_settings *asked = s->settings;
    enum us_status status = open_after(s, NULL, error);
    /* What the command line names must be there; what was chosen another day need not. */
    if (status && !asked->from && !asked->tune && !asked->to.count) status = open_less(s, NULL, error);
    if (!status) stand_session_volume(s);
    stand_practice_follow(s);
    return status;
}

enum us_status stand_session_end(struct stand *s, struct us_error *error)
{
    struct live_play *p = s->session.live;
    if (!p) return US_STATUS_OK;
    us_live_stop(p->live);
    pthread_join(s->session.house, NULL);
    enum us_status status = live_finish(p, error);
    s->session.live = NULL;
    destroy(p);
    return status;
}

void stand_session_close(struct stand *s)
{
    struct us_error error;
    if (stand_session_end(s, &error)) stand_say(s, error.text);
}

void stand_session_again(struct stand *s)
{
    struct live_play *before = s->session.live;
    struct us_error error;
    if (before) {
        us_live_stop(before->live);
        pthread_join(s->session.house, NULL);
        live_rest(before);
        us_midi_ports_close(before->ports); /* the system's MIDI is opened once */
        before->ports = NULL;
        s->session.live = NULL;
    }
    if (open_after(s, before, &error) && open_less(s, before, &error)) stand_say(s, error.text);
    if (before) destroy(before);
    stand_session_volume(s);
    stand_practice_follow(s);
}

void stand_session_control(struct stand *s, enum us_control control, int value)
{
    struct us_event event = {.kind = US_EVENT_CONTROL, .control = (uint8_t)control, .value = value};
    if (s->session.live) us_live_post(s->session.live->live, &event);
}

void stand_session_panic(struct stand *s)
{
    struct us_event event = {.kind = US_EVENT_PANIC};
    if (s->session.live) us_live_post(s->session.live->live, &event);
}

void stand_session_volume(struct stand *s)
{
    struct live_play *p = s->session.live;
    if (p && p->audio) us_audio_set_volume(p->audio, s->choices.sound ? s->choices.volume : 0);
}

bool stand_session_over(const struct stand *s)
{
    const struct live_play *p = s->session.live;
    return p && p->from_file && atomic_load(&p->done);
}
