"""A recording child whose sound server stops answering in the middle of a question.

`python -m hung_server_child JSON` as for `input_child`; with `wait` it never gets to open.
"""

import threading
import time

from sidecue.devices import serving
from sidecue.devices.frames import Kind
from sidecue.devices.naming import Device
from sidecue.devices.soundserver import HOST


class Deaf:
    """Answers nothing, ever."""

    def trouble(self, name, *, capture):
        time.sleep(3600)

    ready = trouble

    def close(self):
        pass


def run(pipe, _number, _device):
    def beat():  # the thread that passes sound on knows nothing of the server
        while True:
            pipe.write(Kind.STATUS)
            time.sleep(0.1)

    pipe.write(Kind.READY, b"{}")
    threading.Thread(target=beat, daemon=True).start()
    return lambda: ""


serving.soundserver.reach = Deaf
serving.devices = lambda *, capture: (Device("mic", HOST, 1, 16_000, False, True),)
serving.place = lambda device, *, capture: 0
serving.serve("microphone", capture=True, run=run)
