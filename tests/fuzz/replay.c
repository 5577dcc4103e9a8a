/* Runs a fuzz target without a fuzzer: over every file of the folders that are named, whole, cut at a hundred
   lengths or at every one, and with bytes changed, the same on every run. */
#include <dirent.h>
#include <string.h>

#include "fuzz.h"

enum { SEED_MAX = 1 << 16, CHANGED = 150, CUTS_MAX = 100 };

static unsigned next_random(unsigned *state)
{
    *state = *state * 1103515245u + 12345u;
    return *state >> 8;
}

/* Exact in size, so that a sanitizer sees a read past the end. */
static void try_bytes(const uint8_t *bytes, size_t size)
{
    uint8_t *copy = malloc(size ? size : 1);
    if (!copy) abort();
    memcpy(copy, bytes, size);
    LLVMFuzzerTestOneInput(copy, size);
    free(copy);
}

static void try_seed(const char *path)
{
    static const uint8_t TELLING[] = {0,    1,   0x7F, 0x80, 0x90, 0xF0, 0xF7,
                                      0xFF, '"', '|',  '\n', '-',  '9',  '%'};
    static uint8_t seed[SEED_MAX], changed[SEED_MAX];
    FILE *file = fopen(path, "rb");
    if (!file) abort();
    size_t size = fread(seed, 1, sizeof seed, file);
    fclose(file);
    unsigned random = (unsigned)size;
    try_bytes(seed, size);
    for (size_t cut = 0; cut < size; cut += size / CUTS_MAX + 1)
        try_bytes(seed, cut);
    for (int i = 0; i < CHANGED && size; i++) {
        memcpy(changed, seed, size);
        for (unsigned times = next_random(&random) % 4 + 1; times; times--)
            changed[next_random(&random) % size] = random & 0x10000
                                                       ? TELLING[next_random(&random) % sizeof TELLING]
                                                       : (uint8_t)next_random(&random);
        try_bytes(changed, size);
    }
}

int main(int argc, char **argv)
{
    int seeds = 0;
    for (int i = 1; i < argc; i++) {
        DIR *folder = opendir(argv[i]);
        if (!folder) {
            perror(argv[i]);
            return 1;
        }
        for (struct dirent *entry; (entry = readdir(folder));) {
            char path[4096];
            if (entry->d_name[0] == '.') continue;
            snprintf(path, sizeof path, "%s/%s", argv[i], entry->d_name);
            try_seed(path);
            seeds++;
        }
        closedir(folder);
    }
    printf("%d seeds\n", seeds);
    return seeds ? 0 : 1;
}
