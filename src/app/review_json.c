#include "harmonize_write.h"
#include "review_write.h"

static const char *const KINDS[US_REVIEW_MARK_KINDS] = {"wrong", "added", "missed", "waited", "went-back"};

static void write_key(struct us_key key, FILE *out)
{
    char name[40];
    if (key.tonic == US_NO_KEY)
        fputs("null", out);
    else
        write_json_string(us_key_name(key, name, sizeof name), out);
}

static void write_sessions(const struct us_review *review, FILE *out)
{
    fputs(",\n \"sessions\":[", out);
    for (size_t i = 0; i < review->session_count; i++) {
        const struct us_review_session *s = &review->sessions[i];
        fputs(i ? ",\n  {\"name\":" : "\n  {\"name\":", out);
        write_json_string(s->name, out);
        fprintf(out, ",\"minutes\":%.3f,\"played\":%u,\"key\":", s->minutes, s->played);
        write_key(s->key, out);
        if (!review->tune_known)
            fprintf(out, ",\"pauses\":%u}", s->pauses);
        else
            fprintf(out,
                    ",\"takes\":%u,\"notes\":%u,\"right\":%u,\"wrong\":%u,\"missed\":%u,\"waits\":%u,"
                    "\"tempo\":%.1f}",
                    s->takes, s->notes, s->right, s->wrong, s->missed, s->waits, s->tempo);
    }
    fputc(']', out);
}

static void write_takes(const struct us_review *review, FILE *out)
{
    fputs(",\n \"takes\":[", out);
    for (size_t i = 0; i < review->take_count; i++) {
        const struct us_take *t = &review->takes[i];
        fprintf(out, "%s\n  {\"session\":%u,\"from\":%.3f,\"until\":%.3f,\"key\":", i ? "," : "",
                t->session + 1, (double)t->from_ns / 1e9, (double)t->until_ns / 1e9);
        write_key(t->key, out);
        fprintf(
            out,
            ",\"notes\":%u,\"right\":%u,\"wrong\":%u,\"added\":%u,\"missed\":%u,\"waits\":%u,\"wentBack\":%u,"
            "\"tempo\":%.1f,\"uneven\":%.3f,\"whole\":%s}",
            t->notes, t->right, t->wrong, t->added, t->missed, t->waits, t->went_back, t->tempo, t->uneven,
            t->whole ? "true" : "false");
    }
    fputc(']', out);
}

static void write_bars(const struct us_review *review, FILE *out)
{
    fputs(",\n \"bars\":[", out);
    for (size_t i = 0; i < review->bar_count; i++) {
        const struct us_review_bar *b = &review->bars[i];
        fprintf(
            out,
            "%s\n  "
            "{\"number\":%d,\"times\":%u,\"notes\":%u,\"wrong\":%u,\"added\":%u,\"missed\":%u,\"waits\":%u,"
            "\"waited\":%.3f,\"tempo\":%.1f,\"uneven\":%.3f}",
            i ? "," : "", b->number, b->times, b->notes, b->wrong, b->added, b->missed, b->waits, b->waited_s,
            b->tempo, b->uneven);
    }
    fputc(']', out);
}

static void write_marks(const struct us_review *review, FILE *out)
{
    fputs(",\n \"marks\":[", out);
    for (size_t i = 0; i < review->mark_count; i++) {
        const struct us_review_mark *m = &review->marks[i];
        fprintf(out,
                "%s\n  "
                "{\"kind\":\"%s\",\"take\":%u,\"bar\":%d,\"beat\":%.4g,\"note\":%d,\"at\":%.3f,\"wanted\":%d",
                i ? "," : "", KINDS[m->kind], m->take + 1, review->bars[m->bar].number, m->beat, m->note,
                (double)m->at_ns / 1e9, m->wanted);
        if (m->played >= 0) fprintf(out, ",\"played\":%d", m->played);
        if (m->seconds > 0) fprintf(out, ",\"seconds\":%.3f", m->seconds);
        if (m->corrected) fputs(",\"corrected\":true", out);
        if (m->cause)
            fprintf(out, ",\"cause\":\"%s\"",
                    us_review_mark_cause_words((enum us_review_mark_cause)m->cause));
        fputc('}', out);
    }
    fputc(']', out);
}

static void write_keys(const struct us_review *review, FILE *out)
{
    fputs(",\n \"keys\":[", out);
    for (size_t i = 0; i < review->key_count; i++) {
        const struct us_key_record *r = &review->keys[i];
        fputs(i ? ",{\"key\":" : "{\"key\":", out);
        write_key(r->key, out);
        fprintf(out, ",\"times\":%u,\"notes\":%u,\"right\":%u,\"waits\":%u,\"score\":%.3f}", r->times,
                r->notes, r->right, r->waits, us_key_record_score(r));
    }
    fputc(']', out);
}

void write_review_json(const struct us_review *review, FILE *out)
{
    fputs("{\"title\":", out);
    if (review->tune_known)
        write_json_string(review->title, out);
    else
        fputs("null", out);
    fprintf(out, ",\"fromRepeats\":%u,\"key\":", review->from_repeats);
    write_key(review->key, out);
    write_sessions(review, out);
    if (review->tune_known) {
        write_takes(review, out);
        write_bars(review, out);
        write_marks(review, out);
        write_keys(review, out);
    }
    fputs(",\n \"next\":{\"text\":", out);
    write_json_string(review->advice.text, out);
    if (review->advice.from_bar)
        fprintf(out, ",\"fromBar\":%d,\"toBar\":%d", review->advice.from_bar, review->advice.to_bar);
    fputs(",\"key\":", out);
    write_key(review->advice.key, out);
    char words[200];
    fputs("},\n \"nextKey\":{\"key\":", out);
    write_key(review->next_key, out);
    fputs(",\"text\":", out);
    write_json_string(review->next_key.tonic == US_NO_KEY
                          ? ""
                          : us_next_key_words(review->next_key, review->next_reason, words, sizeof words),
                      out);
    fputs("}}\n", out);
}
