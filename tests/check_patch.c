#include "support.h"

#include "undersong/patch.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[] = "/tmp/undersong-patch-XXXXXX";

static const char *write_file(const char *name, const char *text)
{
    static char path[300];
    snprintf(path, sizeof path, "%s/undersong/patches/%s", folder, name);
    FILE *f = fopen(path, "w");
    ck_assert(f != NULL);
    fputs(text, f);
    fclose(f);
    return path;
}

START_TEST(reads_every_setting)
{
    struct us_patch p;
    struct us_error error;
    const char *path =
        write_file("all.ini", "; a comment\n[patch]\nname = All of it\nabout = words\n"
                              "texture = root-run\nchange = half\ntouch = 25\nsplit = 55\n"
                              "silent = yes\n[melody]\nprogram = 128\noctave = -1\n"
                              "level = 127\npan = -100\nreverb = 100\n[left-hand]\nprogram = 1\n");
    ck_assert_msg(us_patch_read(path, &p, &error) == US_STATUS_OK, "%s", error.text);
    ck_assert_str_eq(p.id, "all");
    ck_assert_str_eq(p.name, "All of it");
    ck_assert(p.sets_texture && p.texture == US_TEXTURE_ROOT_RUN && p.sets_change &&
              p.change == US_CHANGE_HALF);
    ck_assert(p.touch == 25 && p.split == 55 && p.silent);
    const struct us_patch_voice *v = &p.voice[US_VOICE_MELODY];
    ck_assert(v->program == 127 && v->octave == -1 && v->level == 127 && v->pan == -100 && v->reverb == 100);
    ck_assert_int_eq(p.voice[US_VOICE_LEFT].program, 0);
    ck_assert_int_eq(p.voice[US_VOICE_SECOND].program, 127); /* like the melody where nothing is said */
}
END_TEST

START_TEST(errors_name_file_and_line)
{
    static const struct {
        const char *text, *wanted;
    } ROWS[] = {
        {"[patch]\nname = x\n[melody]\nprogram = 0\n", "bad.ini:4: program = 0: give a General MIDI program"},
        {"[patch]\nname = x\n[melody]\nprogram = 129\n", "bad.ini:4:"},
        {"[patch]\nname = x\ntexture = polka\n", "bad.ini:3: texture = polka: no such texture"},
        {"[patch]\nname = x\n\n[drums]\nlevel = 3\n", "bad.ini:5: level = 3: no such section"},
        {"[patch]\nname = x\nvolume = 3\n", "bad.ini:3: volume = 3: no such setting"},
        {"[patch]\nname = x\ntouch = 30%\n", "bad.ini:3:"},
        {"[patch]\nname = x\nnonsense\n", "bad.ini:3: not a setting"},
        {"[patch]\nname = x\n[melody]\nlevel = loud\npan = far\n", "bad.ini:4:"},
        {"[patch]\nabout = no name\n", "bad.ini:1: no name"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_patch p;
        struct us_error error = {US_STATUS_OK, ""};
        const char *path = write_file("bad.ini", ROWS[i].text);
        ck_assert_int_eq(us_patch_read(path, &p, &error), US_STATUS_BAD_INPUT);
        ck_assert_msg(strstr(error.text, ROWS[i].wanted), "row %zu: %s", i, error.text);
        ck_assert(!strchr(error.text, '\n'));
    }
}
END_TEST

START_TEST(the_users_folder_comes_first)
{
    struct us_patch p, *list;
    struct us_error error;
    size_t count, mine = 0;
    ck_assert_msg(us_patch_find("music-box", &p, &error) == US_STATUS_OK, "%s", error.text);
    ck_assert_str_eq(p.name, "Music box");
    write_file("music-box.ini", "[patch]\nname = My own box\n");
    ck_assert_int_eq(us_patch_find("music-box", &p, &error), US_STATUS_OK);
    ck_assert_str_eq(p.name, "My own box");
    ck_assert_int_eq(us_patch_find("nobody", &p, &error), US_STATUS_NOT_FOUND);
    ck_assert(strstr(error.text, "nobody"));
    ck_assert_int_eq(us_patch_list(&list, &count, &error), US_STATUS_OK);
    for (size_t i = 0; i < count; i++) {
        mine += strcmp(list[i].id, "music-box") == 0;
        ck_assert(i == 0 || strcmp(list[i - 1].id, list[i].id) < 0);
    }
    ck_assert_uint_eq(mine, 1);
    ck_assert_uint_ge(count, 8);
    free(list);
}
END_TEST

/* Every patch that comes with the program can be read (one that cannot has no name), and says what it is for.
 */
START_TEST(the_patches_here_are_right)
{
    struct us_patch *list;
    struct us_error error;
    size_t count;
    unlink(write_file("music-box.ini", ""));
    unlink(write_file("bad.ini", ""));
    unlink(write_file("all.ini", ""));
    ck_assert_int_eq(us_patch_list(&list, &count, &error), US_STATUS_OK);
    for (size_t i = 0; i < count; i++) {
        ck_assert_msg(list[i].name[0], "%s", list[i].about);
        ck_assert_uint_gt(strlen(list[i].about), 10);
    }
    ck_assert_uint_ge(count, 8);
    free(list);
}
END_TEST

START_TEST(touch)
{
    struct us_patch p;
    us_patch_default(&p);
    p.touch = 0;
    ck_assert_int_eq(us_patch_velocity(&p, US_VOICE_LEFT, 20), us_patch_velocity(&p, US_VOICE_LEFT, 127));
    ck_assert_int_eq(us_patch_velocity(&p, US_VOICE_MELODY, 20), 20);
    p.touch = 100;
    for (int v = 1; v < 128; v++)
        ck_assert_int_eq(us_patch_velocity(&p, US_VOICE_LEFT, (uint8_t)v), v);
    p.touch = 50;
    ck_assert_int_eq(us_patch_velocity(&p, US_VOICE_LEFT, 100), 90);
    ck_assert_int_ge(us_patch_velocity(&p, US_VOICE_LEFT, 0), 1);
}
END_TEST

int main(void)
{
    char path[200];
    if (!mkdtemp(folder)) return 1;
    setenv("XDG_CONFIG_HOME", folder, 1);
    snprintf(path, sizeof path, "%s/undersong", folder);
    mkdir(path, 0700);
    snprintf(path, sizeof path, "%s/undersong/patches", folder);
    mkdir(path, 0700);
    const TTest *const TESTS[] = {reads_every_setting, errors_name_file_and_line,
                                  the_users_folder_comes_first, the_patches_here_are_right, touch};
    int status = RUN_TESTS("patch", TESTS);
    snprintf(path, sizeof path, "rm -rf %s", folder);
    return system(path) ? 1 : status;
}
