#!/usr/bin/env python3
"""stand_touch.py PROGRAM: fingers on the drawn keys of the real window.  Its screen is GTK's own server for browsers
(gtk4-broadwayd); this is the browser: a web socket (RFC 6455) that sends touches in that server's words."""
import base64, os, shutil, socket, struct, subprocess, sys, tempfile, threading, time
import on_screen
from on_screen import SKIPPED, Stand, check, has_window, inside, key_middle, settled, wait_for

program = sys.argv[1]
TOUCH, SCREEN_SIZE, ANSWER = 5, 12, 14  # what a browser sends
ASK = 16  # what it is asked, to be answered
BEGIN, UPDATE, END = range(3)
WINDOW = 1


class Browser:
    def __init__(self, port):
        self.lock = threading.Lock()
        self.socket = wait_for(lambda: connection(port), 20)
        key = base64.b64encode(os.urandom(16)).decode()
        self.socket.sendall((f"GET /socket HTTP/1.1\r\nHost: localhost:{port}\r\nOrigin: http://localhost:{port}\r\n"
                             f"Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Key: {key}\r\n"
                             "Sec-WebSocket-Protocol: broadway\r\nSec-WebSocket-Version: 13\r\n\r\n").encode())
        answer = b""
        while b"\r\n\r\n" not in answer:
            answer += self.exact(1)
        threading.Thread(target=self.listen, daemon=True).start()
        self.send(SCREEN_SIZE, 1280, 720, 1)

    def exact(self, count):
        data = b""
        while len(data) < count:
            more = self.socket.recv(count - len(data))
            if not more:
                raise EOFError
            data += more
        return data

    def listen(self):
        """Pictures are let go; what is asked after each is answered, as often as a screen would."""
        try:
            while True:
                length = self.exact(2)[1] & 127
                if length > 125:
                    length = int.from_bytes(self.exact(2 if length == 126 else 8), "big")
                data = self.exact(length)
                if length >= 11 and data[-11] == ASK:
                    time.sleep(1 / 60)
                    self.send(ANSWER, *struct.unpack("<HI", data[-6:]))
        except (EOFError, OSError):
            pass

    def send(self, what, *numbers):
        data = struct.pack(">%di" % (3 + len(numbers)), what, 0, time.monotonic_ns() // 1000000 & 0x7FFFFFFF, *numbers)
        mask = os.urandom(4)
        with self.lock:
            self.socket.sendall(bytes([0x82, 0x80 | len(data)]) + mask +
                                bytes(b ^ mask[i % 4] for i, b in enumerate(data)))

    def touch(self, kind, finger, place):
        self.send(TOUCH, kind, WINDOW, finger, finger == 1, *place, *place, 0)


def connection(port):
    try:
        return socket.create_connection(("127.0.0.1", port))
    except OSError:
        return None


def down_at(stand, *places):
    """Whether exactly the keys at these places are the right hand's."""
    marks = stand.marks("right")
    return len(marks) == len(places) and all(any(inside(m, p) for m in marks) for p in places)


def check_touch(stand, browser):
    check("a first picture", stand.shown)
    dump = settled(stand.dump)
    c, e, g, a = (key_middle(dump, pitch) for pitch in (60, 64, 67, 69))
    browser.touch(BEGIN, 1, c)
    check("a finger plays", wait_for(lambda: down_at(stand, c)), stand.marks("right"))
    browser.touch(BEGIN, 2, e)
    browser.touch(BEGIN, 3, g)
    check("three fingers play three keys", wait_for(lambda: down_at(stand, c, e, g)), stand.marks("right"))
    browser.touch(UPDATE, 3, a)
    check("one slides", wait_for(lambda: down_at(stand, c, e, a)), stand.marks("right"))
    browser.touch(END, 1, c)
    check("the first lets go, the others hold", wait_for(lambda: down_at(stand, e, a)), stand.marks("right"))
    browser.touch(END, 3, a)
    browser.touch(END, 2, e)
    check("all are up", wait_for(lambda: down_at(stand)), stand.marks("right"))


def main():
    if not shutil.which("gtk4-broadwayd"):
        print("skipped: no gtk4-broadwayd (libgtk-4-bin)")
        return SKIPPED
    if not has_window(program):
        print("skipped: built without GTK 4")
        return SKIPPED
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    on_screen.Stand.find = lambda self: None  # not on a screen of X
    with tempfile.TemporaryDirectory() as folder:
        os.environ.update(XDG_CONFIG_HOME=folder, XDG_DATA_HOME=folder, XDG_CACHE_HOME=folder, XDG_RUNTIME_DIR=folder,
                          HOME=folder, GDK_BACKEND="broadway", BROADWAY_DISPLAY=":7", GSK_RENDERER="broadway", GTK_A11Y="none")
        server = subprocess.Popen(["gtk4-broadwayd", "--address", "127.0.0.1", "--port", str(port), ":7"],
                                  stdout=subprocess.DEVNULL)
        try:
            browser = Browser(port)
            stand = Stand(program, folder, "--full-screen")
            check_touch(stand, browser)
            stand.ends_well()
        finally:
            server.terminate()
            server.wait()
    return 1 if on_screen.bad else 0


sys.exit(main())
