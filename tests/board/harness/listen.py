"""Run the example of a listener on MicroPython for a test: it prints what its lamp gets when that changes.

Arguments: folder of the example, port of the broker, seconds until messages expire, of a soft start;
a user and a password if the broker wants them.
"""

import sys

sys.path.insert(0, sys.argv[1])
import listener

listener.PAUSE_S, listener.STEP_MS = 0.1, 20


class Lamp:
    last = None

    def write(self, code, is_closed):
        if (code, is_closed) != self.last:
            self.last = (code, is_closed)
            sys.stdout.write("%d %s\n" % (code, "on" if is_closed else "off"))  # noqa: UP031


follower = listener.Follower(expire_s=float(sys.argv[3]), soft_s=float(sys.argv[4]))
listener.run(Lamp(), follower, "127.0.0.1", int(sys.argv[2]), "bench/blue/level", *sys.argv[5:])
