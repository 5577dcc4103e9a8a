#include "learned.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands.h"
#include "screen.h"
#include "undersong/file_save.h"
#include "undersong/harmony_file.h"
#include "undersong/harmony_learn.h"
#include "undersong/tune_file.h"
#include "undersong/user_folders.h"

/* How often the tunes are gone through: few tunes often, so that they leave a mark. */
static int epochs_for(size_t tunes)
{
    enum { LESSONS = 2000, LEAST = 4, MOST = 80 };
    size_t epochs = LESSONS / (tunes + 1);
    return (int)(epochs < LEAST ? LEAST : epochs > MOST ? MOST : epochs);
}

static const char FILE_NAME[] = "harmony.tables";

enum us_status learned_load(struct us_harmony_tables **tables, struct us_error *error)
{
    char path[1024];
    *tables = NULL;
    if (!us_user_data(FILE_NAME, path, sizeof path) || access(path, F_OK) != 0) return US_STATUS_OK;
    *tables = malloc(sizeof **tables);
    if (!*tables) return us_error_no_memory(error);
    enum us_status status = us_harmony_tables_load(path, *tables, error);
    if (status) {
        free(*tables);
        *tables = NULL;
    }
    return status;
}

/* The tunes of a folder that can teach, with their files. */
struct school {
    struct us_tune_file *files;
    struct us_harmony_lesson *lessons;
    size_t count, without_chords, unreadable;
};

/* Takes the file over. */
static bool enrol(struct school *s, struct us_tune_file *file)
{
    struct us_tune_file *files = realloc(s->files, (s->count + 1) * sizeof *files);
    if (files) s->files = files;
    struct us_harmony_lesson *lessons = realloc(s->lessons, (s->count + 1) * sizeof *lessons);
    if (lessons) s->lessons = lessons;
    if (!files || !lessons) return false;
    files[s->count] = *file;
    lessons[s->count] = (struct us_harmony_lesson){.key = us_tune_key(&file->tune), .hymn = -1};
    s->count++;
    return true;
}

/* All the tunes of one file: a songbook has several. */
static enum us_status read_book(struct school *s, const char *path, struct us_error *error)
{
    struct us_tune_entry *entries;
    size_t count;
    enum us_status status = us_tune_list(path, &entries, &count, error);
    for (size_t i = 0; i < count && !status; i++) {
        struct us_tune_file file;
        status = us_tune_load_number(path, entries[i].number, &file, error);
        if (status) break;
        if (file.tune.chord_count == 0 || file.tune.metre.top == 0) {
            s->without_chords++;
            us_tune_file_finish(&file);
        } else if (!enrol(s, &file)) {
            us_tune_file_finish(&file);
            status = us_error_no_memory(error);
        }
    }
    free(entries);
    return status;
}

static void school_finish(struct school *s)
{
    for (size_t i = 0; i < s->count; i++)
        us_tune_file_finish(&s->files[i]);
    free(s->files);
    free(s->lessons);
}

static enum us_status gather(struct school *s, const struct inputs *inputs, struct us_error *error)
{
    for (size_t i = 0; i < inputs->count; i++) {
        enum us_status status = read_book(s, inputs->paths[i], error);
        if (status == US_STATUS_NO_MEMORY) return status;
        if (!status) continue;
        report_error(error);
        s->unreadable++;
    }
    /* Only now: the files have found their places. */
    for (size_t i = 0; i < s->count; i++)
        s->lessons[i].tune = &s->files[i].tune;
    return US_STATUS_OK;
}

static enum us_status make_folder_of(const char *path, struct us_error *error)
{
    char *folder = strdup(path);
    enum us_status status = US_STATUS_OK;
    if (!folder) return us_error_no_memory(error);
    *strrchr(folder, '/') = 0;
    if (!us_make_folders(folder))
        status = us_error_set(error, US_STATUS_IO,
                              "%.250s: cannot be made (%s); set XDG_DATA_HOME to a folder of yours", folder,
                              strerror(errno));
    free(folder);
    return status;
}

static void tell(const char *what)
{
    screen_clear_line();
    fputs(what, stderr);
}

static enum us_status learn(const struct school *s, struct us_error *error)
{
    char path[1024];
    struct us_harmony_tables *tables = malloc(sizeof *tables);
    struct us_harmony_learn_options options = {.epochs = epochs_for(s->count),
                                               .start = &us_harmony_built_in,
                                               .progress = isatty(STDERR_FILENO) ? tell : NULL};
    enum us_status status = US_STATUS_OK;
    if (!tables)
        status = us_error_no_memory(error);
    else if (!us_user_data(FILE_NAME, path, sizeof path))
        status = us_error_set(error, US_STATUS_BAD_INPUT,
                              "HOME is not set, so there is no data folder to keep it in; set XDG_DATA_HOME");
    if (!status) status = make_folder_of(path, error);
    if (!status) status = us_harmony_learn(s->lessons, s->count, &options, tables, error);
    if (!status) status = us_harmony_tables_save(path, tables, error);
    if (options.progress) screen_clear_line();
    if (!status)
        printf("learned from %zu tune%s with chords; kept in %s\n"
               "From now on these habits are used; remove the file to go back, or say --built-in.\n",
               s->count, s->count == 1 ? "" : "s", path);
    free(tables);
    return status;
}

int learn_from_folder(const char *folder)
{
    struct school school = {0};
    struct inputs inputs;
    struct us_error error;
    const char *items[] = {folder};
    enum us_status status = inputs_collect(&(struct text_list){items, 1}, &inputs, &error);
    if (status) return report_error(&error);
    status = gather(&school, &inputs, &error);
    if (!status && school.count == 0)
        status = us_error_set(
            &error, US_STATUS_BAD_INPUT,
            "%s: no tune in it has chords and a metre; write chord symbols such as \"G\" in abc", folder);
    if (!status) status = learn(&school, &error);
    if (!status && school.without_chords > 0)
        printf("%zu tune%s without chords or metre left aside\n", school.without_chords,
               school.without_chords == 1 ? "" : "s");
    if (!status && school.unreadable > 0)
        printf("%zu file%s not readable\n", school.unreadable, school.unreadable == 1 ? "" : "s");
    school_finish(&school);
    inputs_finish(&inputs);
    if (!status) status = printed(&error);
    return status ? report_error(&error) : 0;
}
