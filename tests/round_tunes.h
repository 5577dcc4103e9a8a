/* Tunes made up for the tests of rounds: pitch, quarters. */
#ifndef ROUND_TUNES_H
#define ROUND_TUNES_H

#include <stdint.h>

/* A four-phrase round made up for this test, two bars of 4/4 a phrase over the circle C | G C. */
static const int8_t CIRCLE[][2] = {
    {60, 1}, {62, 1}, {64, 1}, {60, 1}, {62, 1}, {59, 1}, {60, 2}, /* first phrase */
    {64, 1}, {65, 1}, {67, 1}, {64, 1}, {65, 1}, {62, 1}, {64, 2}, /* second */
    {72, 1}, {74, 1}, {76, 1}, {72, 1}, {74, 1}, {71, 1}, {72, 2}, /* third */
    {67, 2}, {67, 2}, {71, 1}, {74, 1}, {67, 2},                   /* fourth */
};
/* Every phrase leans on the notes between those of the one before. */
static const int8_t STRANGERS[][2] = {
    {60, 2}, {64, 2}, {60, 2}, {60, 2}, {61, 2}, {66, 2}, {66, 2}, {70, 2},
    {71, 2}, {60, 2}, {65, 2}, {64, 2}, {70, 2}, {66, 2}, {54, 2}, {58, 2},
};

#endif
