/* Files written whole or not at all, and for whom: others who may write to the same folder gain nothing by
 * it. */
#include "support.h"

#include "undersong/file_save.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static char folder[] = "/tmp/check-save-XXXXXX";

static const char *in_folder(const char *name)
{
    static char paths[4][100];
    static int turn;
    char *path = paths[turn++ % 4];
    snprintf(path, sizeof paths[0], "%s/%.70s", folder, name);
    return path;
}

static void start(void)
{
    snprintf(folder, sizeof folder, "/tmp/check-save-XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder));
    umask(0); /* who lets others read everything has private files all the same */
}

static void expect_content(const char *path, const char *wanted)
{
    char got[100] = "";
    FILE *file = fopen(path, "r");
    ck_assert_ptr_nonnull(file);
    size_t size = fread(got, 1, sizeof got - 1, file);
    fclose(file);
    ck_assert_msg(size == strlen(wanted) && strcmp(got, wanted) == 0, "%s: \"%s\"", path, got);
}

static mode_t mode_of(const char *path)
{
    struct stat known;
    ck_assert_int_eq(lstat(path, &known), 0);
    return known.st_mode;
}

/* Somebody guesses the name of the file that is being written and lays a link there: it is not followed. */
START_TEST(planted_links_are_not_followed)
{
    enum { PLANTED = 5 };
    struct us_error error;
    char name[PLANTED][60];
    start();
    ck_assert_int_eq(us_file_save(in_folder("victim"), "theirs", 6, 0644, &error), US_STATUS_OK);
    for (int i = 0; i < PLANTED; i++) {
        snprintf(name[i], sizeof name[i], "mine.%ld-%d.part", (long)getpid(), i);
        ck_assert_int_eq(symlink(i % 2 ? in_folder("nowhere") : in_folder("victim"), in_folder(name[i])), 0);
    }
    ck_assert_int_eq(us_file_save(in_folder("mine"), "ours", 4, 0600, &error), US_STATUS_OK);
    expect_content(in_folder("victim"), "theirs");
    expect_content(in_folder("mine"), "ours");
    ck_assert(mode_of(in_folder("mine")) == (S_IFREG | 0600) && access(in_folder("nowhere"), F_OK));
    for (int i = 0; i < PLANTED; i++)
        ck_assert(S_ISLNK(mode_of(in_folder(name[i]))) && unlink(in_folder(name[i])) == 0);
    ck_assert(unlink(in_folder("victim")) == 0 && unlink(in_folder("mine")) == 0 && rmdir(folder) == 0);
}
END_TEST

/* A file of one's own that others could read is private from the moment in which it is replaced. */
START_TEST(private_files_and_folders)
{
    struct us_error error;
    struct us_file_part part;
    start();
    ck_assert_int_eq(us_file_save(in_folder("kept"), "1", 1, 0666, &error), US_STATUS_OK);
    ck_assert(mode_of(in_folder("kept")) == (S_IFREG | 0666));
    ck_assert_int_eq(us_file_part_begin(&part, in_folder("kept"), 0600, &error), US_STATUS_OK);
    ck_assert(mode_of(part.part) == (S_IFREG | 0600)); /* while it is written, too */
    ck_assert_int_eq(write(part.fd, "22", 2), 2);
    expect_content(in_folder("kept"), "1");
    ck_assert_int_eq(us_file_part_keep(&part, &error), US_STATUS_OK);
    expect_content(in_folder("kept"), "22");
    ck_assert(mode_of(in_folder("kept")) == (S_IFREG | 0600));
    ck_assert(us_make_folders(in_folder("a/b")) && mode_of(in_folder("a")) == (S_IFDIR | 0700) &&
              mode_of(in_folder("a/b")) == (S_IFDIR | 0700));
    ck_assert(unlink(in_folder("kept")) == 0 && rmdir(in_folder("a/b")) == 0 && rmdir(in_folder("a")) == 0 &&
              rmdir(folder) == 0);
}
END_TEST

/* What is dropped, or cannot be written, leaves what was there and nothing else. */
START_TEST(what_is_given_up_leaves_nothing)
{
    struct us_error error;
    struct us_file_part part;
    start();
    ck_assert_int_eq(us_file_save(in_folder("kept"), "1", 1, 0600, &error), US_STATUS_OK);
    ck_assert_int_eq(us_file_part_begin(&part, in_folder("kept"), 0600, &error), US_STATUS_OK);
    ck_assert_int_eq(write(part.fd, "22", 2), 2);
    us_file_part_drop(&part);
    ck_assert_int_eq(us_file_part_begin(&part, in_folder("none/kept"), 0600, &error), US_STATUS_IO);
    ck_assert_ptr_nonnull(strstr(error.text, "none/kept"));
    expect_content(in_folder("kept"), "1");
    ck_assert(unlink(in_folder("kept")) == 0 && rmdir(folder) == 0);
}
END_TEST

/* A file that others could not read is not opened to them by being written anew. */
START_TEST(what_was_private_stays_so)
{
    struct us_error error;
    start();
    ck_assert_int_eq(us_file_save(in_folder("kept"), "1", 1, 0600, &error), US_STATUS_OK);
    ck_assert_int_eq(us_file_save(in_folder("kept"), "2", 1, 0666, &error), US_STATUS_OK);
    expect_content(in_folder("kept"), "2");
    ck_assert(mode_of(in_folder("kept")) == (S_IFREG | 0600));
    ck_assert(unlink(in_folder("kept")) == 0 && rmdir(folder) == 0);
}
END_TEST

/* What is protected against writing is not replaced, though the folder would allow it.  Root may do all. */
START_TEST(what_is_protected_stays)
{
    struct us_error error;
    int status;
    start();
    ck_assert_int_eq(us_file_save(in_folder("kept"), "1", 1, 0444, &error), US_STATUS_OK);
    ck_assert_int_eq(chmod(folder, 0777), 0);
    pid_t child = fork();
    if (child == 0) {
        if (geteuid() == 0 && setuid(65534)) _exit(2);
        _exit(us_file_save(in_folder("kept"), "2", 1, 0666, &error) != US_STATUS_IO);
    }
    ck_assert(waitpid(child, &status, 0) == child && status == 0);
    expect_content(in_folder("kept"), "1");
    ck_assert(unlink(in_folder("kept")) == 0 && rmdir(folder) == 0);
}
END_TEST

/* In a folder that is everybody's, such as /tmp, the system may forbid to follow a stranger's link; only root
   can lay one here. */
START_TEST(strangers_links_are_not_followed)
{
    struct us_error error;
    struct stat known;
    const uid_t stranger = 65534;
    start();
    ck_assert_int_eq(us_file_save(in_folder("mine"), "mine", 4, 0600, &error), US_STATUS_OK);
    ck_assert(mkdir(in_folder("all"), 01777) == 0 && symlink("../mine", in_folder("all/link")) == 0);
    if (lchown(in_folder("all/link"), stranger, stranger) == 0 && stat(in_folder("all/link"), &known) < 0) {
        ck_assert_int_eq(us_file_save(in_folder("all/link"), "theirs", 6, 0666, &error), US_STATUS_IO);
        expect_content(in_folder("mine"), "mine");
    }
    ck_assert(unlink(in_folder("all/link")) == 0 && unlink(in_folder("mine")) == 0 &&
              rmdir(in_folder("all")) == 0 && rmdir(folder) == 0);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {planted_links_are_not_followed,  private_files_and_folders,
                                  what_is_given_up_leaves_nothing, what_was_private_stays_so,
                                  what_is_protected_stays,         strangers_links_are_not_followed};
    return RUN_TESTS("file_save", TESTS);
}
