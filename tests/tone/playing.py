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


def named(sizes):
    """Sizes by the cues' names; "trail" is short for the trail side."""
    return {"trail side" if name == "trail" else name: size for name, size in sizes.items()}


def play(synth, seconds, **sizes):
    """Frames at 100 Hz with the same sizes."""
    blocks = []
    for _ in range(round(seconds * 100)):
        synth.heartbeat()
        synth.set_cues(named(sizes))
        blocks.append(synth.render(synth.rate_hz // 100))
    return np.concatenate(blocks).astype(float)
