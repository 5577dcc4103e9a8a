/* Any bytes on a MIDI line: what comes out is a message, and sent again it comes out the same. */
#include "fuzz.h"
#include "undersong/input.h"
#include "undersong/midi_bytes.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct us_midi_parser parser = {0}, again = {0};
    struct us_midi_encoder encoder = {0};
    struct us_input input;
    us_input_init(&input);
    for (size_t i = 0; i < size; i++) {
        struct us_midi_message message, back = {0};
        struct us_event event;
        if (!us_midi_parser_byte(&parser, data[i], &message)) continue;
        size_t length = us_midi_message_length(message.status);
        FUZZ_CHECK(length >= 1 && message.data1 < 0x80 && message.data2 < 0x80);
        FUZZ_CHECK(length >= 2 || message.data1 == 0);
        FUZZ_CHECK(length == 3 || message.data2 == 0);
        uint8_t wire[3];
        size_t sent = us_midi_encode(&encoder, message, wire), came = 0;
        FUZZ_CHECK(sent >= 1 && sent <= length);
        for (size_t b = 0; b < sent; b++)
            came += us_midi_parser_byte(&again, wire[b], &back);
        FUZZ_CHECK(came == 1 && back.status == message.status && back.data1 == message.data1 &&
                   back.data2 == message.data2);
        if (us_input_message(&input, message, (int64_t)i, &event)) {
            FUZZ_CHECK(event.pitch < 128 && event.velocity < 128);
        }
    }
    return 0;
}
