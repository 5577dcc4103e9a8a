/* What went wrong, in one line a user can act on.  Used by io, rt and app; core functions cannot fail. */
#ifndef UNDERSONG_STATUS_H
#define UNDERSONG_STATUS_H

enum us_status {
    US_STATUS_OK = 0,
    US_STATUS_BAD_INPUT, /* the command line or an input file is wrong: exit status 2 */
    US_STATUS_NOT_FOUND, /* a file or port that does not exist: exit status 2 */
    US_STATUS_NO_DEVICE, /* a device that is missing or was lost: exit status 1 */
    US_STATUS_NO_MEMORY, /* exit status 1 */
    US_STATUS_IO         /* reading or writing failed: exit status 1 */
};

/* One plain line (plain_line.h): what, where (file:line or byte) and what to do.  No newline at its end. */
struct us_error {
    enum us_status status;
    char text[400];
};

/* Fill `error` (may be NULL) from a printf format and return `status`.  Any thread; cuts a text that is too
 * long. */
enum us_status us_error_set(struct us_error *error, enum us_status status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The same where an allocation failed and there is nothing more to tell of it. */
enum us_status us_error_no_memory(struct us_error *error);

/* The process exit status that belongs to `status`: 0, 1 or 2. */
int us_status_exit_code(enum us_status status);

#define US_WARN_UNUSED __attribute__((warn_unused_result))

#endif
