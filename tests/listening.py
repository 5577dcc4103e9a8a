"""What the tests of the program as a whole hear: bytes as python3-mido reads them, and what still sounds."""
import os, select, time
import mido


def parse(data):
    parser = mido.Parser()
    parser.feed(data)
    return list(parser)


def strikes(messages, channel):
    """The notes that begin on a channel."""
    return [m.note for m in messages if m.type == "note_on" and m.velocity and m.channel == channel]


def heard_until(stream, good, seconds=15):
    """The bytes that come until what was heard is good, or so many seconds are over."""
    data, until = b"", time.monotonic() + seconds
    while not good(parse(data)) and (left := until - time.monotonic()) > 0:
        if select.select([stream], [], [], left)[0]:
            more = os.read(stream.fileno(), 65536)
            if not more:
                break
            data += more
    return data


def still_down(messages):
    """(channel, pitch) of each note without an end."""
    down = set()
    for m in messages:
        if m.type == "note_on" and m.velocity:
            down.add((m.channel, m.note))
        elif m.type in ("note_on", "note_off"):
            down.discard((m.channel, m.note))
    return down


def silent_end(messages):
    """Every note released, and All Notes Off (CC 123) on each voice's channel."""
    closed = {m.channel for m in messages if m.type == "control_change" and m.control == 123}
    return not still_down(messages) and closed == {0, 1, 2}
