/* bench_live PROGRAM: the whole program over pipes.  Prints: note byte in to first byte out, and to the left
   hand's first byte; start to the first answered note; resident memory with and without sound.  Figures, not
   checks. */
#include "bench_time.h"
#include "undersong/clock.h"
#include "undersong/midi_bytes.h"

#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

static const char *program;
struct run {
    pid_t pid;
    int in, out;
};

static struct run start(bool sound)
{
    int to[2], from[2];
    if (pipe(to) || pipe(from)) exit(1);
    struct run r = {.pid = fork(), .in = to[1], .out = from[0]};
    if (r.pid == 0) {
        dup2(to[0], 0);
        dup2(from[1], 1);
        close(to[1]);
        close(from[0]);
        execl(program, program, "play", "--from", "-", "--to", "-", "--to", sound ? "synth" : "-", "--audio",
              "dummy", "--key", "C", "--metre", "4/4", "--quiet", "--keep", "no", (char *)NULL);
        _exit(127);
    }
    close(to[0]);
    close(from[1]);
    return r;
}

static void stop(struct run *r)
{
    int status;
    close(r->in);
    kill(r->pid, SIGTERM);
    waitpid(r->pid, &status, 0);
    close(r->out);
}

static void send_note(const struct run *r, int status, int pitch)
{
    uint8_t bytes[3] = {(uint8_t)status, (uint8_t)pitch, 90};
    if (write(r->in, bytes, 3) != 3) exit(1);
}

/* Reads for `ms`; the times of the first byte and of the left hand's first note, or 0. */
static void listen_for(const struct run *r, int ms, int64_t *first, int64_t *left)
{
    struct us_midi_parser parser = {0};
    int64_t until = us_clock_ns() + ms * INT64_C(1000000);
    *first = *left = 0;
    for (int64_t now; (now = us_clock_ns()) < until;) {
        struct pollfd fd = {.fd = r->out, .events = POLLIN};
        if (poll(&fd, 1, (int)((until - now) / 1000000) + 1) <= 0) continue;
        uint8_t bytes[512];
        ssize_t got = read(r->out, bytes, sizeof bytes);
        int64_t at = us_clock_ns();
        if (!*first) *first = at;
        for (ssize_t i = 0; i < got; i++) {
            struct us_midi_message m;
            if (us_midi_parser_byte(&parser, bytes[i], &m) && m.status == 0x91 && !*left) *left = at;
        }
    }
}

static void print_figures(const char *what, double *values, int count, const char *unit)
{
    if (!count) return;
    bench_sort(values, (size_t)count);
    printf("%-48s n %4d  median %8.3f  99 %% %8.3f  worst %8.3f %s\n", what, count, values[count / 2],
           values[count * 99 / 100], values[count - 1], unit);
}

static void bench_answers(bool sound)
{
    enum { NOTES = 300 };
    static const int TUNE[] = {72, 76, 79, 76, 77, 74, 71, 72};
    double any[NOTES], left_hand[NOTES];
    int any_count = 0, left_count = 0;
    struct run r = start(sound);
    int64_t first, left;
    listen_for(&r, 500, &first, &left);
    for (int i = 0; i < NOTES; i++) {
        int64_t at = us_clock_ns();
        send_note(&r, 0x90, TUNE[i % 8]);
        listen_for(&r, 60, &first, &left);
        if (first) any[any_count++] = (double)(first - at) * 1e-6;
        if (left && (double)(left - at) < 20e6) left_hand[left_count++] = (double)(left - at) * 1e-6;
        send_note(&r, 0x80, TUNE[i % 8]);
        listen_for(&r, 20 + i % 7, &first, &left);
    }
    stop(&r);
    print_figures(sound ? "note in to first byte out, sound on" : "note in to first byte out", any, any_count,
                  "ms");
    print_figures(sound ? "note in to left hand out, sound on" : "note in to left hand out", left_hand,
                  left_count, "ms");
}

static void bench_start(bool sound)
{
    enum { RUNS = 15 };
    double times[RUNS];
    for (int i = 0; i < RUNS; i++) {
        int64_t at = us_clock_ns(), first = 0, left;
        struct run r = start(sound);
        send_note(&r, 0x90, 60);
        while (!first)
            listen_for(&r, 1, &first, &left);
        times[i] = (double)(first - at) * 1e-6;
        stop(&r);
    }
    print_figures(sound ? "start to first answered note, sound on" : "start to first answered note", times,
                  RUNS, "ms");
}

static void bench_memory(bool sound)
{
    struct run r = start(sound);
    int64_t first, left;
    send_note(&r, 0x90, 60);
    listen_for(&r, 3000, &first, &left);
    char path[64], line[200];
    snprintf(path, sizeof path, "/proc/%d/status", (int)r.pid);
    FILE *f = fopen(path, "r");
    while (f && fgets(line, sizeof line, f))
        if (strncmp(line, "VmRSS", 5) == 0 || strncmp(line, "RssAnon", 7) == 0)
            printf("resident memory, sound %s: %s", sound ? "on" : "off", line);
    if (f) fclose(f);
    stop(&r);
}

int main(int argc, char **argv)
{
    program = argc > 1 ? argv[1] : "undersong";
    signal(SIGPIPE, SIG_IGN);
    for (int sound = 0; sound < 2; sound++) {
        bench_answers(sound);
        bench_start(sound);
        bench_memory(sound);
    }
    return 0;
}
