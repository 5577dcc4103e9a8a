/* Any bytes as a patch file: read with everything in range, or refused with one line that names the place. */
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "fuzz.h"
#include "undersong/patch.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static int fd = -1;
    struct us_patch patch;
    struct us_error error = {0};
    char path[40];
    if (fd < 0) fd = memfd_create("patch", 0);
    snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    if (fd < 0 || ftruncate(fd, 0) || (size && pwrite(fd, data, size, 0) != (ssize_t)size)) abort();
    enum us_status status = us_patch_read(path, &patch, &error);
    if (status) {
        FUZZ_CHECK(error.status == US_STATUS_BAD_INPUT && error.text[0] && !strchr(error.text, '\n'));
        FUZZ_CHECK(strncmp(error.text, path, strlen(path)) == 0);
        return 0;
    }
    FUZZ_CHECK(patch.touch <= 100 && patch.texture < US_TEXTURES && patch.change <= US_CHANGE_BEAT);
    FUZZ_CHECK(patch.split >= 0 && patch.split < 128);
    for (int voice = 0; voice < US_VOICES; voice++) {
        const struct us_patch_voice *v = &patch.voice[voice];
        FUZZ_CHECK(v->program < 128 && v->octave >= -2 && v->octave <= 2 && v->level < 128);
        FUZZ_CHECK(v->pan >= -100 && v->pan <= 100 && v->reverb <= 100);
    }
    return 0;
}
