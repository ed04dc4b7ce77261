# Which loops this board has: those on its registers where they are known, else the portable ones.
import gc
import sys

from mat import tally

_BRISK_US = 5000  # periods up to this are quick: nobody looks at the link in between


def untyped(it: object):
    """What it is given: for the type checker something, or nothing."""
    return it


def scanner() -> type:
    """The class of the scan."""
    if sys.platform == "rp2":
        from mat import scanner_rp2

        return scanner_rp2.Scan
    from mat import scan

    return scan.Scan


def network(_meter: object):
    """The module with a scan's way to newtons in the chip's own instructions; None where there is none."""
    if sys.platform == "rp2":
        from mat.alone import network_rp2

        return network_rp2
    return None


def brisk(app, link) -> object:
    """The function that takes the turns of a quick run over the cable; None where the app's own loop does."""
    feet = not app.frame.bits  # what a scan says of the feet takes longer than the brisk turns have
    if feet or app.tally[tally.PERIOD] > _BRISK_US or link.owner is not link.usb or link.usb.line is None:
        return None
    from mat import brisk_rp2

    return brisk_rp2.turns(app)


def idle(asked: int) -> object:
    """What begins when nobody asks for anything; not read before: a mat that starts says hello sooner."""
    from mat.alone import idle

    return idle.Idle(asked)


def measure(app) -> None:
    """See once how long a column of each panel takes when a row has moved. What does it is let go: frames need room."""
    if app.row_us or not app.scan.sharp or not app.rows.proven:
        return
    import mat
    from mat import settling

    settling.measure(app, (0, app.shape[1] - 1))
    del sys.modules["mat.settling"]
    if hasattr(mat, "settling"):
        delattr(mat, "settling")


def forget(folder, *names: str) -> int:
    """Let go of modules of a folder that have done their work: read again when asked for. The free memory."""
    for name in names:
        if sys.modules.pop(folder.__name__ + "." + name, None) and hasattr(folder, name):
            delattr(folder, name)
    gc.collect()
    return gc.mem_free()
