/* Keeps a PulseAudio server without an output from ending this program; see pulse_no_sink.c. */
#ifndef PULSE_NO_SINK_H
#define PULSE_NO_SINK_H

/* Does nothing; to call it links the rest in. */
void pulse_no_sink(void);

#endif
