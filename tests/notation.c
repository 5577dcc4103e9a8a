/* Gives other programs something of ours to read:

       notation abc FILE        the tune as we write it in abc, on standard output
       notation musicxml FILE   the same in MusicXML
       notation random SEED     a made-up tune in abc, as a player of repeats and triplets might type it
*/
#include "same_tune.h"
#include "undersong/abc.h"
#include "undersong/musicxml.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int write_file(const char *format, const char *path)
{
    struct us_tune_file file;
    struct us_error error;
    enum us_status status = us_tune_load(path, &file, &error);
    if (!status) {
        status = strcmp(format, "abc") == 0 ? us_abc_write(&file.tune, file.number, stdout, &error)
                                            : us_musicxml_write(&file.tune, stdout, &error);
        us_tune_file_finish(&file);
    }
    if (status) fprintf(stderr, "%s\n", error.text);
    return us_status_exit_code(status);
}

int main(int argc, char **argv)
{
    char text[8000];
    if (argc != 3) return 2;
    if (strcmp(argv[1], "random") != 0) return write_file(argv[1], argv[2]);
    random_abc((unsigned)atoi(argv[2]), text, sizeof text);
    fputs(text, stdout);
    return 0;
}
