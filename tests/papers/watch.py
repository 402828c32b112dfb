"""What a block of code opened, called or started, seen by Python's own audit events; and a server that counts who calls."""

import sys
from contextlib import contextmanager

_watching: list[list[tuple[str, str]]] = []
EVENTS = {"open", "socket.connect", "socket.getaddrinfo", "subprocess.Popen", "os.system"}


def _hook(event, args):
    if _watching and event in EVENTS:
        _watching[-1].append((event, str(args[1] if event == "socket.connect" else args[0])))


sys.addaudithook(_hook)


@contextmanager
def watched():
    seen = []
    _watching.append(seen)
    try:
        yield seen
    finally:
        _watching.pop()
