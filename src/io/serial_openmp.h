/* Keeps OpenMP's teams of threads out of this program; see serial_openmp.c. */
#ifndef SERIAL_OPENMP_H
#define SERIAL_OPENMP_H

/* Does nothing; to call it links the rest in. */
void serial_openmp(void);

#endif
