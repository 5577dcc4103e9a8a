#include "support.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "undersong/recorder.h"
#include "undersong/smf.h"

static char folder[] = "/tmp/undersong-check-XXXXXX"; /* made once, before the cases fork */

static const char *in_folder(const char *name)
{
    static char path[160];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static int64_t now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static struct us_recorder *open_recorder(const struct us_recorder_settings *settings)
{
    struct us_recorder *recorder;
    struct us_error error = {0};
    enum us_status status = us_recorder_open(&recorder, settings, &error);
    ck_assert_msg(status == US_STATUS_OK, "%s", error.text);
    return recorder;
}

static void act(struct us_recorder *recorder, int kind, int voice, int pitch, int64_t at_ns)
{
    struct us_action action = {.at_ns = at_ns,
                               .kind = (uint8_t)kind,
                               .voice = (uint8_t)voice,
                               .pitch = (uint8_t)pitch,
                               .velocity = 80,
                               .chord = {7, US_CHORD_MAJ},
                               .key = {0, US_MODE_MAJOR},
                               .metre = {3, 4},
                               .bar = true};
    us_recorder_action(recorder, &action);
}

static void load(const char *path, struct us_smf *smf)
{
    struct us_error error = {0};
    enum us_status status = us_smf_load(smf, path, &error);
    ck_assert_msg(status == US_STATUS_OK, "%s", error.text);
}

START_TEST(recorder_keeps_everything_in_its_track)
{
    static const struct {
        int kind, voice, pitch, ms, status, track;
    } ROWS[] = {
        {US_ACTION_KEY, 0, 0, 1000, 0xFF, 0},       {US_ACTION_METRE, 0, 0, 1000, 0xFF, 0},
        {US_ACTION_CHORD, 0, 0, 1000, 0xFF, 0},     {US_ACTION_BEAT, 0, 0, 1000, 0xFF, 0},
        {US_ACTION_NOTE_ON, 0, 72, 1000, 0x90, 1},  {US_ACTION_NOTE_ON, 1, 48, 1000, 0x91, 2},
        {US_ACTION_PEDAL, 0, 0, 1100, 0xB0, 1},     {US_ACTION_NOTE_ON, 2, 69, 1200, 0x92, 3},
        {US_ACTION_NOTE_OFF, 0, 72, 1500, 0x80, 1}, {US_ACTION_NOTE_OFF, 1, 48, 1500, 0x81, 2},
        {US_ACTION_NOTE_OFF, 2, 69, 1500, 0x82, 3}, {US_ACTION_ALL_OFF, 1, 0, 1600, 0xB1, 2},
    };
    struct us_recorder_settings settings = {.path = in_folder("kept.mid"), .start_ns = 500000000};
    struct us_recorder *recorder = open_recorder(&settings);
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        act(recorder, ROWS[i].kind, ROWS[i].voice, ROWS[i].pitch, ROWS[i].ms * INT64_C(1000000));
    struct us_error error = {0};
    ck_assert_int_eq(us_recorder_close(recorder, &error), US_STATUS_OK);
    struct us_smf smf;
    load(in_folder("kept.mid"), &smf);
    ck_assert_int_eq(smf.tracks, 4);
    size_t row = 0;
    for (size_t i = 0; i < smf.count; i++) {
        const struct us_smf_event *e = &smf.events[i];
        if (e->at_ns == 0 || us_smf_is_meta(e, US_SMF_END_OF_TRACK)) continue;
        ck_assert_int_eq(e->status, ROWS[row].status);
        ck_assert_int_eq(e->track, ROWS[row].track);
        ck_assert_int_lt(llabs(e->at_ns - (ROWS[row].ms - 500) * INT64_C(1000000)), 300000);
        row++;
    }
    ck_assert_uint_eq(row, sizeof ROWS / sizeof *ROWS);
    struct stat known;
    ck_assert(stat(in_folder("kept.mid"), &known) == 0 && (known.st_mode & 0777) == 0600);
    us_smf_finish(&smf);
}
END_TEST

/* Pages that a process which is killed leaves to its parent. */
struct shared {
    atomic_int played; /* notes given to the recorder */
    _Atomic int64_t at_ns[20000];
    _Atomic int64_t late_ns, round_ns; /* what the witness lost, and when its round began */
};

/* How long the machine itself keeps a thread from running and the disk from answering: as often as the
   recorder, it sleeps, then writes and syncs twice, as a recorder does that loses no time of its own.  The
   worst counts. */
enum { ROUND_NS = 50000000 };
static void *witness(void *argument)
{
    struct shared *shared = argument;
    int fd = open(in_folder("witness"), O_WRONLY | O_CREAT, 0600);
    for (;;) {
        shared->round_ns = now_ns();
        sleep_ms(ROUND_NS / 1000000);
        for (int i = 0; i < 2; i++)
            if (pwrite(fd, "", 1, 0) != 1 || fdatasync(fd)) _exit(1);
        int64_t late_ns = now_ns() - shared->round_ns - ROUND_NS;
        if (late_ns > shared->late_ns) shared->late_ns = late_ns;
    }
    return NULL;
}

static void play_until_killed(struct shared *shared, const char *path)
{
    struct us_recorder_settings settings = {.path = path, .start_ns = 0};
    struct us_recorder *recorder;
    pthread_t beside;
    if (us_recorder_open(&recorder, &settings, NULL)) _exit(1);
    if (pthread_create(&beside, NULL, witness, shared)) _exit(1);
    for (int i = 0; i < 20000; i++) {
        shared->at_ns[i] = now_ns();
        act(recorder, US_ACTION_NOTE_ON, i % 3, 36 + i % 50, i * INT64_C(1000000));
        act(recorder, US_ACTION_NOTE_OFF, i % 3, 36 + i % 50, i * INT64_C(1000000));
        shared->played = i + 1;
        sleep_ms(1);
    }
    _exit(0);
}

/* How many notes the file holds, in order and without a gap; -1 where it is not valid. */
static int count_notes(const char *path)
{
    struct us_smf smf;
    int notes = 0;
    if (us_smf_load(&smf, path, NULL)) return -1;
    for (size_t i = 0; i < smf.count && notes >= 0; i++)
        if ((smf.events[i].status & 0xF0) == 0x90)
            notes = smf.events[i].data1 == 36 + notes % 50 ? notes + 1 : -1;
    us_smf_finish(&smf);
    return notes;
}

static int notes_in(const char *path)
{
    int notes = count_notes(path);
    ck_assert_int_ge(notes, 0);
    return notes;
}

/* Killed at any moment the file is whole and lacks no more than the last second, and what a witness beside it
   lost too on a busy machine. */
START_TEST(recorder_survives_being_killed)
{
    struct shared *shared =
        mmap(NULL, sizeof *shared, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    ck_assert(shared != MAP_FAILED);
    unsigned random = 7;
    int worst_ms = 0;
    for (int round = 0; round < 8; round++) {
        shared->played = 0;
        shared->late_ns = 0;
        shared->round_ns = now_ns();
        unlink(in_folder("crash.mid"));
        pid_t child = fork();
        if (child == 0) play_until_killed(shared, in_folder("crash.mid"));
        while (!shared->played)
            sleep_ms(1);
        random = random * 1103515245u + 12345u;
        sleep_ms((int)(random >> 16) % 3000);
        kill(child, SIGKILL);
        int64_t killed_ns = now_ns();
        waitpid(child, NULL, 0);
        int old = shared->played;
        int64_t late_ns = killed_ns - shared->round_ns - ROUND_NS; /* of the round that was cut */
        if (late_ns < shared->late_ns) late_ns = shared->late_ns;
        while (old > 0 && shared->at_ns[old - 1] > killed_ns - 1000000000 - late_ns)
            old--;
        int kept = notes_in(in_folder("crash.mid"));
        ck_assert_msg(kept >= old, "%d kept of %d older than a second and %d ms", kept, old,
                      (int)(late_ns / 1000000));
        worst_ms = late_ns / 1000000 > worst_ms ? (int)(late_ns / 1000000) : worst_ms;
    }
    printf("# the witness was late by %d ms at most\n", worst_ms);
    munmap(shared, sizeof *shared);
}
END_TEST

static void play_five(struct us_recorder *recorder, int from)
{
    for (int i = from; i < from + 5; i++) {
        act(recorder, US_ACTION_NOTE_ON, 0, 36 + i, i * INT64_C(100000000) + 10000000);
        act(recorder, US_ACTION_NOTE_OFF, 0, 36 + i, i * INT64_C(100000000) + 50000000);
    }
    for (int wait = 0; wait < 500 && notes_in(in_folder("cut.mid")) < from + 5; wait++)
        sleep_ms(10);
}

static size_t read_bytes(uint8_t *bytes, size_t size)
{
    FILE *file = fopen(in_folder("cut.mid"), "rb");
    ck_assert_ptr_nonnull(file);
    size = fread(bytes, 1, size, file);
    fclose(file);
    return size;
}

static int notes_of(const uint8_t *bytes, size_t size)
{
    struct us_smf smf;
    struct us_error error = {0};
    int notes = 0;
    enum us_status status = us_smf_read(&smf, bytes, size, "cut", &error);
    ck_assert_msg(status == US_STATUS_OK, "%s", error.text);
    for (size_t i = 0; i < smf.count; i++)
        notes += (smf.events[i].status & 0xF0) == 0x90;
    us_smf_finish(&smf);
    return notes;
}

/* A power cut leaves any part of what was being written on the disk: all that is not synced may have arrived
   or not.  Before the one small write that makes new events count, the file holds the old ones, after it all.
 */
START_TEST(recorder_survives_half_a_write)
{
    enum { SIZE = 65536, COMMIT = 7, SECTOR = 512 };
    static uint8_t before[SIZE], after[SIZE], cut[SIZE];
    struct us_recorder *recorder =
        open_recorder(&(struct us_recorder_settings){.path = in_folder("cut.mid")});
    play_five(recorder, 0);
    size_t size = read_bytes(before, SIZE), first = 0, last = 0;
    play_five(recorder, 5);
    ck_assert_uint_eq(read_bytes(after, SIZE), size);
    while (before[first] == after[first])
        first++;
    for (size_t i = first; i < size; i++)
        if (before[i] != after[i]) last = i;
    ck_assert_uint_gt(last, first + COMMIT);
    ck_assert_uint_eq(first / SECTOR, (first + COMMIT - 1) / SECTOR);
    unsigned random = 1;
    for (size_t prefix = first + COMMIT; prefix <= last + 1; prefix++)
        for (int scattered = 0; scattered < 2; scattered++) {
            memcpy(cut, before, size);
            for (size_t i = first + COMMIT; i <= last; i++) {
                random = random * 1103515245u + 12345u;
                if (scattered ? random >> 20 & 1 : i < prefix) cut[i] = after[i];
            }
            ck_assert_int_eq(notes_of(cut, size), 5);
        }
    memcpy(cut, after, size);
    ck_assert_int_eq(notes_of(cut, size), 10);
    ck_assert_int_eq(us_recorder_close(recorder, NULL), US_STATUS_OK);
}
END_TEST

static atomic_int reports;
static char reported[512];

static void note_report(void *context, const char *line)
{
    reports++;
    snprintf(reported, sizeof reported, "%s", line);
}

static struct rlimit limit_files(rlim_t bytes)
{
    struct rlimit before;
    getrlimit(RLIMIT_FSIZE, &before);
    setrlimit(RLIMIT_FSIZE, &(struct rlimit){bytes, before.rlim_max});
    return before;
}

/* The disk is full: said once, the player goes on, and what was kept stays readable; with room again the rest
   follows.  A limit on the size of files stands for the disk. */
START_TEST(recorder_disk_full)
{
    struct us_recorder_settings settings = {.path = in_folder("full.mid"), .report = note_report};
    struct us_recorder *recorder = open_recorder(&settings);
    signal(SIGXFSZ, SIG_DFL); /* the thread must not let it through */
    int played = 0, valid = 0;
    struct rlimit before =
        limit_files(40000); /* Check writes to a file too: no assertion until it is lifted */
    for (int round = 0; round < 3; round++) {
        for (int i = 0; i < 5000; i++, played++) {
            act(recorder, US_ACTION_NOTE_ON, 0, 36 + played % 50, played * INT64_C(1000000));
            act(recorder, US_ACTION_NOTE_OFF, 0, 36 + played % 50, played * INT64_C(1000000));
        }
        sleep_ms(500);
        valid += count_notes(in_folder("full.mid")) >= 0;
    }
    int kept = count_notes(in_folder("full.mid"));
    setrlimit(RLIMIT_FSIZE, &before);
    ck_assert_int_eq(valid, 3);
    ck_assert_int_eq(reports, 1);
    ck_assert_ptr_nonnull(strstr(reported, "full.mid"));
    ck_assert_int_lt(kept, played);
    struct us_error error = {0};
    ck_assert_msg(us_recorder_close(recorder, &error) == US_STATUS_OK, "%s", error.text);
    ck_assert_int_eq(notes_in(in_folder("full.mid")), played);
    ck_assert_int_eq(reports, 1);
}
END_TEST

START_TEST(recorder_disk_full_to_the_end)
{
    struct us_recorder_settings settings = {.path = in_folder("full.mid"), .report = note_report};
    struct us_recorder *recorder = open_recorder(&settings);
    reports = 0;
    struct rlimit before = limit_files(40000);
    for (int i = 0; i < 8000; i++) {
        act(recorder, US_ACTION_NOTE_ON, 0, 36 + i % 50, i * INT64_C(1000000));
        act(recorder, US_ACTION_NOTE_OFF, 0, 36 + i % 50, i * INT64_C(1000000));
    }
    struct us_error error = {0};
    enum us_status status = us_recorder_close(recorder, &error);
    setrlimit(RLIMIT_FSIZE, &before);
    ck_assert_int_eq(status, US_STATUS_IO);
    ck_assert_ptr_nonnull(strstr(error.text, "full.mid"));
    ck_assert_int_eq(reports, 1);
    ck_assert_int_lt(notes_in(in_folder("full.mid")), 8000);
}
END_TEST

static int sessions(void)
{
    DIR *dir = opendir(in_folder("undersong/sessions"));
    int count = 0;
    for (struct dirent *entry; dir && (entry = readdir(dir));)
        count += strstr(entry->d_name, ".mid") != NULL && entry->d_name[0] == 'u';
    if (dir) closedir(dir);
    return count;
}

/* What a power cut left of a file that was being written, old and new: the old one goes. */
START_TEST(recorder_clears_leftovers)
{
    char old[200], new[200];
    us_recorder_close(open_recorder(&(struct us_recorder_settings){0}), NULL); /* makes the folder */
    snprintf(old, sizeof old, "%s",
             in_folder("undersong/sessions/undersong-20200101-000000-1-001.mid.1-0.part"));
    snprintf(new, sizeof new, "%s",
             in_folder("undersong/sessions/undersong-20200101-000000-2-001.mid.2-0.part"));
    fclose(fopen(old, "w"));
    fclose(fopen(new, "w"));
    struct timespec long_ago[2] = {{1577836800, 0}, {1577836800, 0}};
    ck_assert_int_eq(utimensat(AT_FDCWD, old, long_ago, 0), 0);
    struct us_recorder *recorder = open_recorder(&(struct us_recorder_settings){0});
    act(recorder, US_ACTION_NOTE_ON, 0, 60, 0);
    ck_assert_int_eq(us_recorder_close(recorder, NULL), US_STATUS_OK);
    ck_assert_int_eq(access(old, F_OK), -1);
    ck_assert_int_eq(unlink(new), 0);
}
END_TEST

START_TEST(recorder_keeps_the_last_fifty)
{
    char first[160] = "", named[200];
    us_recorder_close(open_recorder(&(struct us_recorder_settings){0}), NULL); /* makes the folder */
    snprintf(named, sizeof named, "%s", in_folder("undersong/sessions/undersong-20200101-anna.mid"));
    fclose(fopen(named, "w"));
    for (int i = 0; i < US_RECORDER_SESSIONS + 5; i++) {
        struct us_recorder *recorder = open_recorder(&(struct us_recorder_settings){0});
        struct stat known;
        ck_assert(stat(us_recorder_path(recorder), &known) == 0 && (known.st_mode & 0777) == 0600);
        if (!i) snprintf(first, sizeof first, "%s", us_recorder_path(recorder));
        act(recorder, US_ACTION_NOTE_ON, 0, 60, i);
        act(recorder, US_ACTION_NOTE_OFF, 0, 60, i + 100000000);
        ck_assert_int_eq(us_recorder_close(recorder, NULL), US_STATUS_OK);
    }
    ck_assert_int_eq(unlink(named),
                     0); /* the user's own name for one: none of the fifty, and never removed */
    ck_assert_int_eq(sessions(), US_RECORDER_SESSIONS);
    ck_assert_int_eq(access(first, F_OK), -1);
    struct us_recorder *silent = open_recorder(&(struct us_recorder_settings){0});
    ck_assert_int_eq(us_recorder_close(silent, NULL),
                     US_STATUS_OK); /* without notes: not kept, nothing removed */
    ck_assert_int_eq(sessions(), US_RECORDER_SESSIONS);
}
END_TEST

START_TEST(recorder_nowhere_to_write)
{
    struct us_recorder *recorder;
    struct us_error error = {0};
    struct us_recorder_settings settings = {.path = "/no/such/folder/kept.mid"};
    ck_assert_int_eq(us_recorder_open(&recorder, &settings, &error), US_STATUS_IO);
    ck_assert_ptr_nonnull(strstr(error.text, "/no/such/folder/kept.mid"));
    settings.path = "/dev/null";
    ck_assert_int_eq(us_recorder_open(&recorder, &settings, &error), US_STATUS_IO);
    ck_assert_ptr_nonnull(strstr(error.text, "/dev/null"));
    settings.path = NULL;
    unsetenv("XDG_DATA_HOME");
    unsetenv("HOME");
    ck_assert_int_eq(us_recorder_open(&recorder, &settings, &error), US_STATUS_IO);
    ck_assert_ptr_nonnull(strstr(error.text, "HOME"));
    ck_assert_ptr_null(strstr(error.text, "--keep")); /* a window has no such option */
    setenv("XDG_DATA_HOME", "/proc/no-place", 1);
    ck_assert_int_eq(us_recorder_open(&recorder, &settings, &error), US_STATUS_IO);
    ck_assert_ptr_nonnull(strstr(error.text, "/proc/no-place"));
    ck_assert_ptr_null(strstr(error.text, "--keep"));
    ck_assert_ptr_null(recorder);
    us_recorder_action(NULL, &(struct us_action){0});
    ck_assert_int_eq(us_recorder_close(NULL, NULL), US_STATUS_OK);
}
END_TEST

/* A long session is sorted into its tracks on the way, and at the end nothing is missing. */
START_TEST(recorder_long_session)
{
    struct us_recorder *recorder =
        open_recorder(&(struct us_recorder_settings){.path = in_folder("long.mid")});
    const int notes = 40000;
    for (int i = 0; i < notes; i++) {
        act(recorder, US_ACTION_NOTE_ON, i % 3, 36 + i % 50, i * INT64_C(100000000));
        act(recorder, US_ACTION_NOTE_OFF, i % 3, 36 + i % 50, i * INT64_C(100000000) + 90000000);
        if (i % 4000 != 3999) continue; /* no faster than the slowest disk: the queue holds so many */
        for (int wait = 0; wait < 3000 && notes_in(in_folder("long.mid")) <= i; wait++)
            sleep_ms(10);
    }
    ck_assert_int_eq(us_recorder_close(recorder, NULL), US_STATUS_OK);
    ck_assert_int_eq(notes_in(in_folder("long.mid")), notes);
}
END_TEST

/* A flood or a full disk may leave a release without its note, or a note without its release: what is kept
   has neither. */
START_TEST(recorder_ends_every_note)
{
    struct us_recorder *recorder =
        open_recorder(&(struct us_recorder_settings){.path = in_folder("ends.mid")});
    struct us_error error;
    struct us_smf smf;
    act(recorder, US_ACTION_NOTE_OFF, 1, 48, 0);
    act(recorder, US_ACTION_NOTE_ON, 1, 52, 100000000);
    act(recorder, US_ACTION_NOTE_ON, 0, 60, 200000000);
    act(recorder, US_ACTION_NOTE_OFF, 0, 60, 300000000);
    ck_assert_int_eq(us_recorder_close(recorder, NULL), US_STATUS_OK);
    ck_assert_int_eq(us_smf_load(&smf, in_folder("ends.mid"), &error), US_STATUS_OK);
    int began[US_PITCHES] = {0}, ended[US_PITCHES] = {0};
    for (size_t i = 0; i < smf.count; i++) {
        const struct us_smf_event *event = &smf.events[i];
        if ((event->status & 0xF0) == 0x90 && event->data2) began[event->data1]++;
        if ((event->status & 0xF0) == 0x80) ended[event->data1]++;
    }
    us_smf_finish(&smf);
    ck_assert_int_eq(began[48] + ended[48], 0);
    ck_assert(began[52] == 1 && ended[52] == 1 && began[60] == 1 && ended[60] == 1);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {recorder_keeps_everything_in_its_track,
                                  recorder_survives_being_killed,
                                  recorder_survives_half_a_write,
                                  recorder_disk_full,
                                  recorder_disk_full_to_the_end,
                                  recorder_clears_leftovers,
                                  recorder_keeps_the_last_fifty,
                                  recorder_nowhere_to_write,
                                  recorder_long_session,
                                  recorder_ends_every_note};
    if (!mkdtemp(folder)) return EXIT_FAILURE;
    setenv("XDG_DATA_HOME", folder, 1);
    int status = RUN_TESTS("recorder", TESTS);
    char command[64];
    snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command) ? EXIT_FAILURE : status;
}
