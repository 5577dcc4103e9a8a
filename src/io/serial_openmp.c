/* Debian's FluidSynth is built with OpenMP: each block of 64 frames wakes a team of threads to mix it and
   waits for them, which in an audio callback is a system call and a wait for others. The program brings this
   entry point of GNU OpenMP's runtime itself, so that the body runs on the caller's thread alone; the
   runtime's barriers, single sections and tasks do nothing outside a team.  Source: libgomp's ABI, "The
   libgomp ABI" in the GNU libgomp manual. */
#include "serial_openmp.h"

void GOMP_parallel(void (*body)(void *), void *data, unsigned threads, unsigned flags);
void GOMP_parallel(void (*body)(void *), void *data, unsigned threads, unsigned flags)
{
    (void)threads;
    (void)flags;
    body(data);
}

void serial_openmp(void) {}
