"""What the tests of the program as a whole hear: bytes as python3-mido reads them, and what still sounds."""
import mido


def parse(data):
    parser = mido.Parser()
    parser.feed(data)
    return list(parser)


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
