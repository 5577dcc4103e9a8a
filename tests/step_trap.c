/* step_trap [STEPS]: the step and the sound engine's render call run in a process in which every system call
   is fatal and every allocation and lock is counted.  Prints TAP.  Sources: seccomp(2), "filter" mode. */
#include "undersong/companion.h"
#include "undersong/queue.h"
#include "undersong/synth.h"

#include <dlfcn.h>
#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <pthread.h>
#include <signal.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

/* What is trapped.  The real functions are found by glibc's own names, so that nothing is allocated on the
 * way. */
static volatile bool trapping;
static volatile long allocations, locks;
extern void *__libc_malloc(size_t);
extern void *__libc_calloc(size_t, size_t);
extern void *__libc_realloc(void *, size_t);
extern void __libc_free(void *);
void *malloc(size_t size)
{
    allocations += trapping;
    return __libc_malloc(size);
}
void *calloc(size_t count, size_t size)
{
    allocations += trapping;
    return __libc_calloc(count, size);
}
void *realloc(void *p, size_t size)
{
    allocations += trapping;
    return __libc_realloc(p, size);
}
void free(void *p)
{
    allocations += trapping && p;
    __libc_free(p);
}
static int (*real_lock)(pthread_mutex_t *);
int pthread_mutex_lock(pthread_mutex_t *mutex)
{
    locks += trapping;
    return real_lock ? real_lock(mutex) : 0;
}

static uint32_t seed = 12345;
static uint32_t dice(uint32_t sides)
{
    seed = seed * 1664525 + 1013904223;
    return (seed >> 8) % sides;
}

static struct us_companion *companion;
static struct us_actions actions;
static int64_t now_ns;

static void step(struct us_event event)
{
    event.at_ns = now_ns;
    us_companion_step(companion, &event, &actions);
}

/* Tunes, nonsense, pauses, ticks, controls and panics. */
static void run_steps(long steps)
{
    uint8_t held = 60;
    for (long i = 0; i < steps; i++) {
        int64_t due = us_companion_due(companion);
        now_ns += dice(50) ? (int64_t)dice(400) * 1000000 : 6000000000;
        if (due < now_ns && i % 3 == 0) {
            now_ns = due > now_ns - 400000000 ? due : now_ns;
            step((struct us_event){.kind = US_EVENT_TICK});
        } else if (dice(200) == 0) {
            step((struct us_event){.kind = US_EVENT_CONTROL,
                                   .control = (uint8_t)dice(US_CONTROL_TAP + 1),
                                   .value = (int32_t)dice(5)});
        } else if (dice(500) == 0) {
            step((struct us_event){.kind = US_EVENT_PANIC});
        } else if (i % 2) {
            step((struct us_event){.kind = US_EVENT_NOTE_OFF, .pitch = held});
        } else {
            held = (uint8_t)(dice(20) ? 55 + dice(25) : dice(128));
            step((struct us_event){
                .kind = US_EVENT_NOTE_ON, .pitch = held, .velocity = (uint8_t)(1 + dice(127))});
        }
    }
}

static struct us_synth *synth;
static struct us_queue *queue;
static float left[512], right[512];

static void run_render(long buffers)
{
    for (long i = 0; i < buffers; i++) {
        struct us_action a = {
            .at_ns = i * 5333333, .voice = (uint8_t)dice(US_VOICES), .pitch = (uint8_t)(36 + dice(60))};
        a.kind = (uint8_t)(dice(2)   ? US_ACTION_NOTE_ON
                           : dice(9) ? US_ACTION_NOTE_OFF
                                     : US_ACTION_PEDAL + dice(2));
        a.velocity = (uint8_t)(1 + dice(127));
        us_queue_push(queue, &a);
        us_synth_render(synth, queue, left, right, 1, 64 + dice(192));
    }
}

/* From here on only writing to `fd` and the end are allowed. */
static bool forbid_system_calls(int fd)
{
    struct sock_filter rules[] = {
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_exit_group, 4, 0),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_write, 0, 2),
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, args)),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (unsigned)fd, 1, 0),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_KILL_PROCESS),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
    };
    struct sock_fprog program = {.len = sizeof rules / sizeof *rules, .filter = rules};
    return prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0 &&
           prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program) == 0;
}

static void misbehave(long how)
{
    static pthread_mutex_t mutex = PTHREAD_MUTEX_INITIALIZER;
    if (how == 0) (void)getppid();
    if (how == 1) {
        void *volatile p = malloc(10);
        free(p);
    }
    if (how == 2) pthread_mutex_lock(&mutex);
}

struct outcome {
    bool reached, killed;
    long allocations, locks;
};

/* Runs `work` in a trapped child. */
static struct outcome trapped(void (*work)(long), long amount)
{
    struct outcome o = {.killed = true};
    int fds[2], status;
    if (pipe(fds)) return o;
    pid_t child = fork();
    if (child == 0) {
        if (!forbid_system_calls(fds[1])) _exit(3);
        trapping = true;
        work(amount);
        trapping = false;
        long counts[2] = {allocations, locks};
        if (write(fds[1], counts, sizeof counts) != sizeof counts) _exit(4);
        _exit(0);
    }
    close(fds[1]);
    long counts[2];
    o.reached = read(fds[0], counts, sizeof counts) == sizeof counts;
    close(fds[0]);
    waitpid(child, &status, 0);
    o.killed = WIFSIGNALED(status);
    if (o.reached) o.allocations = counts[0], o.locks = counts[1];
    return o;
}

static int failed, count;
static void tell(bool good, const char *what, struct outcome o)
{
    failed += !good;
    printf("%s %d - %s # %ld allocations, %ld locks%s\n", good ? "ok" : "not ok", ++count, what,
           o.allocations, o.locks, o.killed ? ", killed by a system call" : "");
}

int main(int argc, char **argv)
{
    long steps = argc > 1 ? atol(argv[1]) : 100000;
    struct us_companion_settings settings = {
        .key = {US_NO_KEY, US_MODE_MAJOR}, .pickup = -1, .share = 100, .chords = US_CHORDS_PRIMARY};
    struct us_patch patch;
    struct us_error error;
    real_lock = (int (*)(pthread_mutex_t *))dlsym(RTLD_NEXT, "pthread_mutex_lock");
    companion = malloc(us_companion_size());
    us_companion_init(companion, &settings);
    us_patch_default(&patch);
    queue = us_queue_create(0);
    if (us_synth_create(&synth, NULL, 48000, 1, &patch, &error)) {
        printf("Bail out! %s\n", error.text);
        return 1;
    }
    struct outcome o = trapped(misbehave, 0);
    tell(o.killed && !o.reached, "the trap: a system call is fatal", o);
    o = trapped(misbehave, 1);
    tell(o.reached && o.allocations == 2, "the trap: allocations are counted", o);
    o = trapped(misbehave, 2);
    tell(o.reached && o.locks == 1, "the trap: locks are counted", o);
    o = trapped(run_steps, steps);
    tell(o.reached && !o.allocations && !o.locks, "the companion's step", o);
    o = trapped(run_render, steps / 10);
    tell(o.reached && !o.allocations && !o.locks, "the sound engine's render call", o);
    printf("1..%d\n", count);
    return failed != 0;
}
