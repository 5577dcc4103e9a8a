/* bench_jack PROGRAM PATCH: on the JACK server that runs: note byte in to the first frame that a recording
   client hears, and underflows.  Run by rig/bench_jack.sh for several periods.  Figures, not checks. */
#include "bench_time.h"

#include <jack/jack.h>
#include <math.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

/* Each cycle of the server as this client saw it.  The server's own clock takes seconds to be right again
   after an xrun, so times are counted from wake-ups: the earliest one nearby tells when a frame was due. */
enum { CYCLES = 1 << 16, NEARBY = 40 };
static struct cycle {
    double woken_us;
    jack_nframes_t frame;
    bool after_gap;
} cycles[CYCLES];

static jack_client_t *client;
static jack_port_t *port;
static atomic_bool listening, gap;
static atomic_int cycle_count, xruns;
static atomic_int heard;       /* the cycle of the first frame above the threshold, or -1 */
static atomic_int heard_frame; /* and its place there */

static int on_process(jack_nframes_t frames, void *arg)
{
    const float *x = jack_port_get_buffer(port, frames);
    int now = atomic_load(&cycle_count);
    if (now == CYCLES) return 0;
    cycles[now] =
        (struct cycle){(double)jack_get_time(), jack_last_frame_time(client), atomic_exchange(&gap, false)};
    if (now && cycles[now].frame != cycles[now - 1].frame + frames) cycles[now].after_gap = true;
    atomic_store(&cycle_count, now + 1);
    if (!atomic_load(&listening) || atomic_load(&heard) >= 0) return 0;
    for (jack_nframes_t i = 0; i < frames; i++)
        if (fabsf(x[i]) > 0.01f) {
            atomic_store(&heard_frame, (int)i);
            atomic_store(&heard, now);
            return 0;
        }
    return 0;
}

static int on_xrun(void *arg)
{
    atomic_fetch_add(&xruns, 1);
    atomic_store(&gap, true);
    return 0;
}

/* When the frame `offset` of cycle `at` was due, by the wake-ups around it without a gap between. */
static double due_us(int at, int offset)
{
    double us_a_frame = 1e6 / jack_get_sample_rate(client), due = INFINITY;
    int from = at, to = at, last = atomic_load(&cycle_count) - 1;
    while (from > 0 && at - from < NEARBY && !cycles[from].after_gap)
        from--;
    while (to < last && to - at < NEARBY && !cycles[to + 1].after_gap)
        to++;
    for (int i = from; i <= to; i++) {
        int32_t ahead = (int32_t)(cycles[at].frame - cycles[i].frame) + offset;
        due = fmin(due, cycles[i].woken_us + ahead * us_a_frame);
    }
    return due;
}

static bool connect_to_program(void)
{
    for (int i = 0; i < 300; i++) {
        const char **names = jack_get_ports(client, "^undersong-sound", NULL, JackPortIsOutput);
        bool found = names && jack_connect(client, names[0], jack_port_name(port)) == 0;
        jack_free(names);
        if (found) return true;
        bench_sleep_ms(20);
    }
    return false;
}

int main(int argc, char **argv)
{
    enum { NOTES = 120 };
    int to[2], count = 0, cycle[NOTES], frame[NOTES];
    double at_us[NOTES], ms[NOTES];
    client = jack_client_open("bench", JackNoStartServer, NULL);
    if (!client || argc < 3 || pipe(to)) return 1;
    port = jack_port_register(client, "in", JACK_DEFAULT_AUDIO_TYPE, JackPortIsInput, 0);
    jack_set_process_callback(client, on_process, NULL);
    jack_set_xrun_callback(client, on_xrun, NULL);
    jack_activate(client);
    pid_t pid = fork();
    if (pid == 0) {
        dup2(to[0], 0);
        execl(argv[1], argv[1], "play", "--from", "-", "--to", "synth", "--audio", "jack", "--patch", argv[2],
              "--quiet", "--keep", "no", (char *)NULL);
        _exit(127);
    }
    if (!connect_to_program()) return 1;
    bench_sleep_ms(3500); /* the quiet start is over and the clock has settled */
    for (int i = 0; i < NOTES; i++) {
        uint8_t on[3] = {0x90, 72, 110}, off[3] = {0x80, 72, 64};
        atomic_store(&heard, -1);
        atomic_store(&listening, true);
        at_us[count] = (double)jack_get_time();
        if (write(to[1], on, 3) != 3) return 1;
        bench_sleep_ms(100);
        atomic_store(&listening, false);
        cycle[count] = atomic_load(&heard);
        frame[count] = atomic_load(&heard_frame);
        if (cycle[count] >= 0) count++;
        if (write(to[1], off, 3) != 3) return 1;
        bench_sleep_ms(250 + i * 37 % 101);
    }
    kill(pid, SIGTERM);
    waitpid(pid, NULL, 0);
    for (int i = 0; i < count; i++)
        ms[i] = (due_us(cycle[i], frame[i]) - at_us[i]) * 1e-3;
    bench_sort(ms, (size_t)count);
    jack_latency_range_t range = {0, 0};
    jack_port_t *playback = jack_port_by_name(client, "system:playback_1");
    if (playback) jack_port_get_latency_range(playback, JackPlaybackLatency, &range);
    double rate = jack_get_sample_rate(client), period = jack_get_buffer_size(client) / rate * 1e3;
    if (count)
        printf("period %4u frames (%.2f ms), server's latency %.2f ms: note in to frame, %d of %d: median "
               "%.2f, 5 %% %.2f, "
               "95 %% %.2f, 99 %% %.2f ms, spread %.2f ms; allowed %.2f; xruns %d\n",
               jack_get_buffer_size(client), period, range.max / rate * 1e3, count, NOTES, ms[count / 2],
               ms[count / 20], ms[count * 95 / 100], ms[count * 99 / 100],
               ms[count * 95 / 100] - ms[count / 20], period + 1, atomic_load(&xruns));
    jack_client_close(client);
    return count == 0;
}
