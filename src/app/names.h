/* The names that several commands give to the same choices, each list ended by NULL. */
#ifndef APP_NAMES_H
#define APP_NAMES_H

extern const char *const names_of_texture_or_auto[]; /* "auto", then as enum us_texture */
#define names_of_texture (names_of_texture_or_auto + 1)
extern const char *const names_of_chords[]; /* as enum us_chords */
extern const char *const names_of_change[]; /* as enum us_change */

#endif
