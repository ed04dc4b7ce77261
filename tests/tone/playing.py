"""A synthesiser as a session drives it."""

import numpy as np

from groundtone.tone.synth import Synth

NAMES = ("toes", "trail", "heels", "slide", "finish")


def awake(rate=48000, **more):
    """One whose soft start is over and whose watchdog has been fed."""
    synth = Synth(rate, **more)
    synth.render(2 * rate)
    synth.heartbeat()
    return synth


def play(synth, seconds, **sizes):
    """Frames at 100 Hz with the same sizes."""
    blocks = []
    for _ in range(round(seconds * 100)):
        synth.heartbeat()
        synth.set_cues(**{"toes": 0.0, "trail": 0.0, **sizes})
        blocks.append(synth.render(synth.rate_hz // 100))
    return np.concatenate(blocks).astype(float)
