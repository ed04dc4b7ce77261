# Which loops this board has: those on its registers where they are known, else the portable ones.
import sys

from mat import scan as portable
from mat import tally

_BRISK_US = 5000  # periods up to this are quick: nobody looks at the link in between


def scan() -> type:
    """The class of the scan."""
    if sys.platform == "rp2":
        from mat import scanner_rp2

        return scanner_rp2.Scan
    return portable.Scan


def brisk(app, link) -> object:
    """The function that takes the turns of a quick run over the cable; None where the app's own loop does."""
    feet = not app.frame.bits  # what a scan says of the feet takes longer than the brisk turns have
    if feet or app.tally[tally.PERIOD] > _BRISK_US or link.owner is not link.usb or link.usb.line is None:
        return None
    from mat import brisk_rp2

    return brisk_rp2.turns(app)
