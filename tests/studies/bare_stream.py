"""A stream of silence with a session's buffer and nothing else to do: what underruns here is the machine's own.

Run as `python -m studies.bare_stream BUFFER_MS PERIODS`; it plays until its input ends.
"""

from __future__ import annotations

import sys

from groundtone.tone.player import Player
from groundtone.tone.synth import Synth


def main() -> None:
    """Play."""
    player = Player(Synth(), None, None, int(sys.argv[1]), periods=int(sys.argv[2]))
    player.start()
    sys.stdin.read()
    player.close()


if __name__ == "__main__":
    main()
