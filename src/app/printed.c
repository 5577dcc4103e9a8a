#include "commands.h"

#include <stdio.h>

enum us_status printed(struct us_error *error)
{
    bool lost = fflush(stdout) || ferror(stdout);
    return lost ? us_error_set(error, US_STATUS_IO, "standard output: cannot be written") : US_STATUS_OK;
}
