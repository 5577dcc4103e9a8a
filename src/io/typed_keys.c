#include "undersong/typed_keys.h"

#include "undersong/pitch.h"

#include <errno.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { OCTAVES = 2, VELOCITY = 90 };
#define REPEAT_NS INT64_C(70000000) /* the same character sooner than this is the terminal repeating it */

const char *const US_TYPED_HELP =
    "keys: a s d f g h j k l ; are the white keys from middle C, w e  t y u  o p the black ones\n"
    "      z x octave down, up   space next left hand   tab key lock   return left hand off, on\n"
    "      b tap a beat   escape silence   ctrl-c ends\n";

struct us_typed_meaning us_typed_meaning(unsigned char typed)
{
    static const char PIANO[] = "awsedftgyhujkolp;";
    const char *at = typed ? strchr(PIANO, typed) : NULL;
    if (at) return (struct us_typed_meaning){US_TYPED_NOTE, (int)(at - PIANO), 0};
    switch (typed) {
    case 'z': return (struct us_typed_meaning){US_TYPED_OCTAVE, -1, 0};
    case 'x': return (struct us_typed_meaning){US_TYPED_OCTAVE, 1, 0};
    case ' ': return (struct us_typed_meaning){US_TYPED_CONTROL, 0, US_CONTROL_NEXT_TEXTURE};
    case '\t': return (struct us_typed_meaning){US_TYPED_CONTROL, 2, US_CONTROL_KEY_LOCK};
    case '\r':
    case '\n': return (struct us_typed_meaning){US_TYPED_CONTROL, 2, US_CONTROL_LEFT_HAND};
    case 'b': return (struct us_typed_meaning){US_TYPED_CONTROL, 0, US_CONTROL_TAP};
    case 27: return (struct us_typed_meaning){US_TYPED_PANIC, 0, 0};
    default: return (struct us_typed_meaning){US_TYPED_NOTHING, 0, 0};
    }
}

/* The terminal's state belongs to the process, so its rescue does, too. */
static struct termios before;
static atomic_int raw_fd = -1;

static void restore(void)
{
    int fd = atomic_exchange(&raw_fd, -1);
    if (fd >= 0) tcsetattr(fd, TCSANOW, &before);
}

static void on_fatal(int number)
{
    restore(); /* tcsetattr is async-signal-safe (POSIX.1-2017, 2.4.3) */
    signal(number, SIG_DFL);
    raise(number);
}

static void guard(void)
{
    static const int FATAL[] = {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGQUIT};
    static bool guarded;
    for (size_t i = 0; i < sizeof FATAL / sizeof *FATAL && !guarded; i++) {
        struct sigaction old;
        if (sigaction(FATAL[i], NULL, &old) == 0 && old.sa_handler == SIG_DFL) signal(FATAL[i], on_fatal);
    }
    if (!guarded) atexit(restore);
    guarded = true;
}

enum us_status us_typed_keys_init(struct us_typed_keys *k, int fd, bool notes, struct us_error *error)
{
    *k = (struct us_typed_keys){.fd = fd, .notes = notes, .sounding = -1};
    if (!isatty(fd) || tcgetattr(fd, &before))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--from keys: needs a terminal to type in; start it there, without a pipe");
    struct termios raw = before;
    raw.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
    raw.c_iflag &= ~(tcflag_t)(IXON | ICRNL);
    raw.c_cc[VMIN] = 0;
    raw.c_cc[VTIME] = 0;
    raw.c_cc[VSUSP] = _POSIX_VDISABLE; /* stopped in mid-note, nobody could release it */
    guard();
    if (tcsetattr(fd, TCSANOW, &raw))
        return us_error_set(error, US_STATUS_IO, "the terminal cannot be set up");
    atomic_store(&raw_fd, fd);
    return US_STATUS_OK;
}

void us_typed_keys_finish(struct us_typed_keys *k)
{
    if (atomic_load(&raw_fd) == k->fd) restore();
}

static int keys_fds(void *self, struct pollfd *out)
{
    struct us_typed_keys *k = self;
    *out = (struct pollfd){.fd = k->fd, .events = POLLIN};
    return k->ended ? 0 : 1;
}

static int64_t keys_due(void *self, int64_t now_ns)
{
    struct us_typed_keys *k = self;
    if (k->ended) return k->told ? INT64_MAX : now_ns;
    return k->sounding >= 0 ? k->last_ns + US_TYPED_HOLD_NS : INT64_MAX;
}

static int release(struct us_typed_keys *k, int64_t now_ns, struct us_event *out)
{
    if (k->sounding < 0) return 0;
    *out = (struct us_event){.at_ns = now_ns, .kind = US_EVENT_NOTE_OFF, .pitch = (uint8_t)k->sounding};
    k->sounding = -1;
    return 1;
}

static int strike(struct us_typed_keys *k, unsigned char typed, int semitones, int64_t now_ns,
                  struct us_event *out)
{
    bool repeated = typed == k->last && k->sounding >= 0 && now_ns - k->last_ns < REPEAT_NS;
    k->last = typed;
    k->last_ns = now_ns;
    if (repeated || !k->notes) return 0;
    int count = release(k, now_ns, out);
    k->sounding = US_MIDDLE_C + 12 * k->octave + semitones;
    out[count] = (struct us_event){
        .at_ns = now_ns, .kind = US_EVENT_NOTE_ON, .pitch = (uint8_t)k->sounding, .velocity = VELOCITY};
    return count + 1;
}

static int type(struct us_typed_keys *k, unsigned char typed, int64_t now_ns, struct us_event *out)
{
    struct us_typed_meaning m = us_typed_meaning(typed);
    switch (m.what) {
    case US_TYPED_NOTE: return strike(k, typed, m.value, now_ns, out);
    case US_TYPED_OCTAVE:
        k->octave += m.value;
        if (k->octave < -OCTAVES) k->octave = -OCTAVES;
        if (k->octave > OCTAVES) k->octave = OCTAVES;
        return 0;
    case US_TYPED_CONTROL:
        *out = (struct us_event){
            .at_ns = now_ns, .kind = US_EVENT_CONTROL, .control = m.control, .value = m.value};
        return 1;
    case US_TYPED_PANIC:
        k->sounding = -1;
        *out = (struct us_event){.at_ns = now_ns, .kind = US_EVENT_PANIC};
        return 1;
    default: return 0;
    }
}

/* A cursor or function key sends an escape and more; only an escape alone is the escape key. */
static ssize_t skip_sequences(unsigned char *typed, ssize_t count)
{
    if (count < 2 || typed[0] != 27) return count;
    return 0;
}

static int keys_read(void *self, int64_t now_ns, struct us_event *out)
{
    struct us_typed_keys *k = self;
    unsigned char typed[US_SOURCE_EVENTS_MAX / 2];
    int count = 0;
    if (k->ended) {
        k->told = true;
        return US_SOURCE_ENDED;
    }
    if (k->sounding >= 0 && now_ns >= k->last_ns + US_TYPED_HOLD_NS) count = release(k, now_ns, out);
    struct pollfd ready = {.fd = k->fd, .events = POLLIN};
    if (poll(&ready, 1, 0) <= 0) return count;
    ssize_t got = read(k->fd, typed, sizeof typed - 1);
    if (got == 0 || (got < 0 && errno != EINTR && errno != EAGAIN)) k->ended = true;
    got = skip_sequences(typed, got);
    for (ssize_t i = 0; i < got; i++)
        count += type(k, typed[i], now_ns, out + count);
    return k->ended && !count ? US_SOURCE_ENDED : count;
}

struct us_source us_typed_keys_source(struct us_typed_keys *k)
{
    return (struct us_source){.self = k, .fds = keys_fds, .read = keys_read, .due = keys_due};
}
