#include "musicxml_text.h"

void musicxml_begin(FILE *to)
{
    fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
          "<!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" "
          "\"http://www.musicxml.org/dtds/partwise.dtd\">\n<score-partwise version=\"4.0\">\n",
          to);
}

void musicxml_text(const char *text, FILE *to)
{
    for (; *text; text++)
        switch (*text) {
        case '&': fputs("&amp;", to); break;
        case '<': fputs("&lt;", to); break;
        case '>': fputs("&gt;", to); break;
        case '"': fputs("&quot;", to); break;
        default: fputc((unsigned char)*text < ' ' ? ' ' : *text, to);
        }
}
