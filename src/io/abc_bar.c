/* Bar lines, repeat signs and numbered endings (abc 2.1, sections 4.8 to 4.10). */
#include "abc_reader.h"

#include <ctype.h>
#include <stdlib.h>

/* Signs behind the bar line that belong to the bar before it. */
static void take_late_jumps(struct abc_reader *reader)
{
    enum { AT_END = US_JUMP_DA_CAPO | US_JUMP_DAL_SEGNO | US_JUMP_TO_CODA | US_JUMP_FINE };
    struct us_written *out = reader->out;
    if (!out->bar_count || reader->voices[0].at > reader->open_bar.at) return;
    out->bars[out->bar_count - 1].jumps |= reader->open_bar.jumps & AT_END;
    reader->open_bar.jumps &= (uint8_t)~AT_END;
}

enum us_status abc_close_bar(struct abc_reader *reader)
{
    struct us_written *out = reader->out;
    struct abc_voice *voice = &reader->voices[0];
    struct us_written_bar *bar = &reader->open_bar;
    take_late_jumps(reader);
    if (voice->at > bar->at) {
        if (out->bar_count >= US_WRITTEN_BARS_MAX)
            return abc_error(reader, "more than %d bars in one tune; split it", US_WRITTEN_BARS_MAX);
        if (!us_grow((void **)&out->bars, &out->bar_room, out->bar_count, sizeof *bar))
            return abc_no_memory(reader);
        bar->len = voice->at - bar->at;
        out->bars[out->bar_count++] = *bar;
        *bar = (struct us_written_bar){.at = voice->at};
    }
    bar->metre = voice->metre;
    bar->key = voice->key.key;
    return US_STATUS_OK;
}

/* "1", "1,3", "1-3": the times a bracket is for. */
static enum us_status read_endings(struct abc_reader *reader, const char **p, uint16_t *endings)
{
    long from = 0;
    while (isdigit((unsigned char)**p)) {
        long number = strtol(*p, (char **)p, 10);
        if (number < 1 || number > US_ENDING_MAX)
            return abc_error(reader, "an ending for time %ld; use 1 to %d", number, US_ENDING_MAX);
        for (long n = from ? from : number; n <= number; n++)
            *endings |= (uint16_t)(1u << n);
        from = **p == '-' ? number : 0;
        if ((**p != ',' && **p != '-') || !isdigit((unsigned char)(*p)[1])) break;
        (*p)++;
    }
    return US_STATUS_OK;
}

enum us_status abc_ending(struct abc_reader *reader, const char **p)
{
    uint16_t endings = 0;
    enum us_status status = read_endings(reader, p, &endings);
    if (status || reader->voice != 0) return status;
    status = abc_close_bar(reader);
    reader->open_bar.endings = endings;
    return status;
}

struct signs {
    int colons_before, colons_after, bars;
    bool closes;
};

/* Takes the run of | : [ ] that makes one bar line. */
static struct signs read_signs(const char **p)
{
    struct signs signs = {0};
    char before = 0;
    for (;; (*p)++) {
        char c = **p;
        if (c == ':') {
            *(signs.bars ? &signs.colons_after : &signs.colons_before) += 1;
        } else if (c == '|' || (c == '[' && (*p)[1] == '|') ||
                   (c == ']' && (before == '|' || before == '['))) {
            if (signs.colons_after) return signs;
            signs.closes = signs.closes || c != '|' || before == '|';
            signs.bars++;
        } else {
            return signs;
        }
        before = c;
    }
}

enum us_status abc_bar(struct abc_reader *reader, const char **p)
{
    struct us_written *out = reader->out;
    struct abc_voice *voice = &reader->voices[reader->voice];
    struct signs signs = read_signs(p);
    if (!signs.bars) {
        if (signs.colons_before < 2) return abc_error(reader, "a ':' on its own; a repeat sign is |: or :|");
        signs.colons_after = signs.colons_before / 2;
        signs.colons_before -= signs.colons_after;
    }
    if (signs.colons_before > 8)
        return abc_error(reader, "a repeat of more than nine times; use fewer colons");
    abc_clear_accidentals(voice);
    if (reader->voice != 0) return isdigit((unsigned char)**p) ? abc_ending(reader, p) : US_STATUS_OK;
    enum us_status status = abc_close_bar(reader);
    if (status) return status;
    struct us_written_bar *last = out->bar_count ? &out->bars[out->bar_count - 1] : NULL;
    if (last && last->at + last->len == voice->at) {
        if (signs.colons_before) last->repeat_times = (uint8_t)(signs.colons_before + 1);
        last->closes = last->closes || signs.closes;
    }
    if (signs.colons_after) reader->open_bar.repeat_from = true;
    return isdigit((unsigned char)**p) ? abc_ending(reader, p) : US_STATUS_OK;
}
