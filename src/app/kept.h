/* The sessions that the recorder keeps without being asked. */
#ifndef APP_KEPT_H
#define APP_KEPT_H

#include "inputs.h"

/* Their folder; US_STATUS_NOT_FOUND where there is none yet. */
enum us_status kept_folder(char *out, size_t size, struct us_error *error) US_WARN_UNUSED;
/* Those that were written to in the last `seconds`, by age.  None is US_STATUS_NOT_FOUND. */
enum us_status kept_lately(double seconds, struct inputs *out, struct us_error *error) US_WARN_UNUSED;

#endif
