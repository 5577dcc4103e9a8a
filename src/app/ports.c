#include "commands.h"
#include "undersong/audio.h"
#include "undersong/midi_names.h"
#include "undersong/midi_ports.h"
#include "undersong/patch.h"
#include "undersong/plain_line.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct ports_settings {
    bool patches, has_output;
};

#define AT(field) offsetof(struct ports_settings, field)
static const struct option OPTIONS[] = {
    {.name = "patches",
     .type = OPTION_FLAG,
     .offset = AT(patches),
     .help = "list the patches instead: sounds and settings for `play --patch NAME`"},
    {.name = "has-output",
     .type = OPTION_FLAG,
     .offset = AT(has_output),
     .help = "print nothing; the exit status is 0 where a sound output answers, else 1"},
};

struct found {
    int inputs, outputs, audio;
    bool print;
};

static void print_port(const char *name)
{
    char line[256];
    printf("  %s%s\n", us_plain_line(name, line, sizeof line),
           us_midi_is_through(name) ? "   (joins programs; no instrument)" : "");
}

static void on_input(void *user, const char *name, bool input)
{
    struct found *f = user;
    if (input && f->inputs++ == 0)
        puts("Keyboards and other MIDI inputs; a part of the name is enough: play --from NAME");
    if (input) print_port(name);
}

static void on_output(void *user, const char *name, bool input)
{
    struct found *f = user;
    if (!input && f->outputs++ == 0) puts("Instruments and other MIDI outputs: play --to NAME");
    if (!input) print_port(name);
}

static void on_audio(void *user, const char *backend, const char *name, const char *id, bool first)
{
    struct found *f = user;
    char line[256];
    if (f->audio++ == 0 && f->print) puts("Loudspeakers and other sound outputs: play --audio NAME");
    if (f->print)
        printf("  %-6s %s%s\n", backend, us_plain_line(name, line, sizeof line),
               first ? "   (taken without --audio)" : "");
}

static int list_patches(void)
{
    struct us_patch *list;
    struct us_error error;
    size_t count;
    if (us_patch_list(&list, &count, &error)) return report_error(&error);
    for (size_t i = 0; i < count; i++) {
        struct us_patch *p = &list[i];
        us_plain_line(p->id, p->id, sizeof p->id);
        us_plain_line(p->name, p->name, sizeof p->name);
        us_plain_line(p->about, p->about, sizeof p->about);
        printf("%-20s %s\n%-20s   %s\n", p->id, p->name[0] ? p->name : "(cannot be read)", "", p->about);
    }
    free(list);
    return printed(&error) ? report_error(&error) : 0;
}

static int list_ports(void)
{
    struct found f = {.print = true};
    if (!us_midi_ports_list(on_input, &f))
        puts("This build has no MIDI ports (made without PortMidi); play on the computer's keys with "
             "`undersong "
             "play --from keys`.");
    else if (!f.inputs)
        puts("No MIDI input: connect a keyboard and switch it on, or play on the computer's keys with "
             "`undersong play --from keys`.");
    if (us_midi_ports_list(on_output, &f) && !f.outputs)
        puts("No MIDI output: no instrument is connected; the computer itself can sound.");
    if (!us_audio_list(on_audio, &f))
        puts("This build has no sound (made without libsoundio, FluidSynth or libsndfile).");
    else if (!f.audio)
        puts("No sound output answers (asked: JACK, PulseAudio or PipeWire, ALSA); is the computer's sound "
             "on?");
    struct us_error error;
    return printed(&error) ? report_error(&error) : 0;
}

static int run(const void *settings)
{
    const struct ports_settings *ports = settings;
    struct found f = {.print = false};
    if (ports->patches) return list_patches();
    if (!ports->has_output) return list_ports();
    us_audio_list(on_audio, &f);
    return f.audio ? 0 : 1;
}

const struct command command_ports = {
    .name = "ports",
    .summary = "list MIDI inputs, outputs, sound outputs and patches",
    .options = OPTIONS,
    .option_count = sizeof OPTIONS / sizeof *OPTIONS,
    .settings_size = sizeof(struct ports_settings),
    .run = run,
};
