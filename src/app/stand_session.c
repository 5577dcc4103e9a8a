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

/* The error is of the port that was chosen another day and is not there now. */
static bool port_is_gone(const struct us_error *error, const char *chosen, const struct port_list *list)
{
    char named[61]; /* errors name as much of it */
    g_strlcpy(named, chosen, sizeof named);
    return *chosen && strcmp(chosen, "-") != 0 && strstr(error->text, named) &&
           !port_list_can_open(list, chosen);
}

/* ... which is told in the window's own words. */
static void say_what_fails(struct stand *s, const struct us_error *error)
{
    const struct stand_controls *c = &s->controls;
    const char *in = s->choices.input, *out = s->choices.output;
    char line[sizeof error->text] = "";
    if (port_is_gone(error, in, &c->input_list))
        g_snprintf(line, sizeof line,
                   "%s is not there: switch it on, or play on the computer's keys and the mouse", in);
    else if (port_is_gone(error, out, &c->output_list))
        g_snprintf(line, sizeof line, "%s is not there: choose it again when it is switched on", out);
    stand_say(s, *line ? line : error->text);
}

enum { INPUT = 1, OUTPUT = 2, TUNE = 4, PATCH = 8 };

/* What was chosen cannot be had: says why, and lets the player play with as much of it as there is, and with
   all that is `needed`. */
static enum us_status open_less(struct stand *s, struct live_play *before, unsigned needed,
                                struct us_error *error)
{
    static const uint8_t WITHOUT[] = {1, 2, 4, 8, 3, 5, 6, 9, 10, 12, 7, 11, 13, 14, 15};
    struct play_settings *play = &s->session.play;
    const struct play_settings whole = *play;
    struct us_error told = *error;
    enum us_status status = error->status;
    say_what_fails(s, error);
    for (size_t i = 0; i < G_N_ELEMENTS(WITHOUT) && status; i++) {
        if (WITHOUT[i] & needed) continue;
        *play = whole;
        if (WITHOUT[i] & OUTPUT) play->to = s->settings->to;
        if (WITHOUT[i] & TUNE) play->tune = NULL;
        if (WITHOUT[i] & PATCH) play->patch = s->session.default_patch;
        status = start_phrase(s, WITHOUT[i] & INPUT ? NULL : whole.from, before, error);
        if (!status || strcmp(error->text, told.text) == 0) continue;
        told = *error;
        say_what_fails(s, error);
    }
    return status;
}

/* What the command line names must be there; what was chosen another day need not. */
static unsigned needed_by(const struct stand_settings *asked)
{
    return (asked->from ? INPUT : 0u) | (asked->to.count ? OUTPUT : 0u) | (asked->tune ? TUNE : 0u);
}

enum us_status stand_session_open(struct stand *s, struct us_error *error)
{
    enum us_status status = open_after(s, NULL, error);
    if (status) status = open_less(s, NULL, needed_by(s->settings), error);
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
    if (open_after(s, before, &error)) (void)open_less(s, before, 0, &error); /* which tells what fails */
    if (before) destroy(before);
    stand_session_volume(s);
    stand_practice_follow(s);
    stand_review_follow(s);
}

const char *stand_tune(const struct stand *s)
{
    return s->session.live ? s->session.live->setup.tune_path : NULL;
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
    return p && atomic_load(&p->done);
}
