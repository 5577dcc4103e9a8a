#include "play_live_parts.h"

#include "commands.h"
#include "practice.h"
#include "undersong/realtime.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <time.h>
#include <unistd.h>

enum { LOOK_MS = 10 };

static bool wait_until(void *context, int64_t until_ns)
{
    struct live_play *p = context;
    return us_live_wait(p->live, until_ns);
}

static void emit(void *context, const struct us_event *event, const struct us_actions *actions)
{
    struct live_play *p = context;
    us_live_emit(p->live, event, actions);
}

/* Touches the stack that the steps will use, so that no page of it is fetched while playing. */
static void touch_stack(void)
{
    enum { BYTES = 256 * 1024 };
    char room[BYTES];
    explicit_bzero(room, sizeof room); /* not left out by the compiler */
}

static void *live_thread(void *arg)
{
    struct live_play *p = arg;
    prctl(PR_SET_TIMERSLACK, 1UL);
    touch_stack();
    atomic_store(&p->thread_id, (int)gettid());
    if (p->from_file) {
        struct drive drive = {.companion = p->setup.companion,
                              .performance = &p->performance,
                              .context = p,
                              .wait = wait_until,
                              .after = emit};
        drive_run(&drive);
        us_live_silence(p->live);
    } else {
        us_live_run(p->live);
    }
    atomic_store(&p->done, true);
    return NULL;
}

static void print_steps(struct live_play *p)
{
    struct step_log_row row;
    while (step_log_take(&p->log, &row)) {
        live_view_take(&p->view, &row);
        if (p->view.on) continue;
        struct us_actions told = {.count = row.count};
        memcpy(told.list, row.told, row.count * sizeof *row.told);
        narrate(&p->narrator, &row.event, &told, &row.now);
    }
    live_view_show(&p->view);
}

static void write_files(struct live_play *p)
{
    struct us_actions batch = {.count = 0};
    while (p->file_queue && us_queue_pop(p->file_queue, &batch.list[0])) {
        batch.count = 1;
        outputs_send(&p->outputs, &batch);
        if (p->recorder) us_recorder_action(p->recorder, &batch.list[0]);
    }
}

static void look_around(struct live_play *p)
{
    char line[256];
    print_steps(p);
    write_files(p);
    while (p->ports && us_midi_ports_message(p->ports, line, sizeof line))
        live_say(p, line);
}

static void raise_priority(struct live_play *p)
{
    char why[100], line[256];
    while (!atomic_load(&p->thread_id))
        nanosleep(&(struct timespec){.tv_nsec = 100000}, NULL);
    bool raised = us_realtime_raise(atomic_load(&p->thread_id), why, sizeof why);
    if (raised || p->play->quiet || atomic_load(&p->done)) return;
    snprintf(line, sizeof line, "timing may be less steady: no real-time priority (%s)", why);
    live_say(p, line);
}

void live_keep_house(struct live_play *p, const sigset_t *signals)
{
    const struct timespec look = {.tv_nsec = LOOK_MS * 1000000L};
    raise_priority(p);
    while (!atomic_load(&p->done)) {
        if (!signals)
            nanosleep(&look, NULL);
        else if (sigtimedwait(signals, NULL, &look) > 0)
            us_live_stop(p->live);
        look_around(p);
    }
}

static void report_drops(struct live_play *p)
{
    char line[200];
    uint32_t bytes = p->byte_sink.dropped, files = p->file_queue ? us_queue_dropped(p->file_queue) : 0;
    uint32_t synth = p->synth_queue ? us_queue_dropped(p->synth_queue) : 0;
    if (!bytes && !files && !synth) return;
    snprintf(line, sizeof line,
             "too fast: %u notes not sent to standard output, %u not to a file, %u not sounded", bytes, files,
             synth);
    live_say(p, line);
}

void live_rest(struct live_play *p)
{
    pthread_join(p->thread, NULL);
    look_around(p);
    live_view_leave(&p->view);
    report_drops(p);
}

enum us_status live_finish(struct live_play *p, struct us_error *error)
{
    live_rest(p);
    enum us_status status =
        outputs_save(&p->outputs, p->play->sound_font, p->play->level, &p->setup.patch, error);
    struct us_recorder *recorder = p->recorder;
    struct us_error kept;
    p->recorder = NULL;
    if (recorder && us_recorder_close(recorder, &kept) && !status)
        status = us_error_set(error, kept.status, "%s", kept.text);
    return status;
}

enum us_status live_start(struct live_play *p, struct us_error *error)
{
    if (pthread_create(&p->thread, NULL, live_thread, p))
        return us_error_set(error, US_STATUS_NO_MEMORY, "no thread to play on; too many programs running?");
    return US_STATUS_OK;
}

/* Where a player at a keyboard is listening; a file has nobody to practise. */
static void say_next_key(struct live_play *p, bool with_tune_only)
{
    struct practice practice;
    char words[PRACTICE_WORDS];
    const struct us_tune *tune = play_setup_tune(&p->setup);
    bool alone = p->play->quiet || p->from_file || (with_tune_only && !tune);
    if (alone || (p->play->keep && strcmp(p->play->keep, "no") == 0)) return;
    practice_read(tune, &practice);
    if (practice.known) live_say(p, practice_words(&practice, words));
}

static enum us_status run(struct live_play *p, struct us_error *error)
{
    sigset_t signals;
    sigemptyset(&signals);
    sigaddset(&signals, SIGINT);
    sigaddset(&signals, SIGTERM);
    sigaddset(&signals, SIGHUP);
    signal(SIGPIPE, SIG_IGN);
    pthread_sigmask(SIG_BLOCK, &signals, NULL); /* before any thread: all of them inherit it */
    enum us_status status = live_open(p, error);
    if (status) return status;
    if (!p->setup.settings.loop.last) say_next_key(p, true);
    status = live_start(p, error);
    if (status) return status;
    live_keep_house(p, &signals);
    status = live_finish(p, error);
    if (!status) say_next_key(p, false);
    return status;
}

int play_live(const struct play_settings *play)
{
    struct live_play *p = calloc(1, sizeof *p);
    struct us_error error = {US_STATUS_NO_MEMORY, "out of memory"};
    if (!p) return report_error(&error);
    p->play = play;
    bool bytes_out = false;
    for (size_t i = 0; i < play->to.count; i++)
        bytes_out = bytes_out || strcmp(play->to.items[i], "-") == 0;
    p->narrator.out = bytes_out ? stderr : stdout;
    p->narrator.metre = play->metre;
    if (!play->quiet) live_view_init(&p->view, p->narrator.out);
    enum us_status status = run(p, &error);
    if (p->recorder) us_recorder_close(p->recorder, NULL);
    live_close(p);
    free(p);
    if (!status) status = printed(&error);
    return status ? report_error(&error) : 0;
}
