/* What both writers of MusicXML begin with: the head of a score, and text in it. */
#ifndef MUSICXML_TEXT_H
#define MUSICXML_TEXT_H

#include <stdio.h>

/* The declaration, the document's type and the score element, which is left open. */
void musicxml_begin(FILE *to);
/* Text with the characters that mark up escaped; control characters become blanks. */
void musicxml_text(const char *text, FILE *to);

#endif
