# Lies on the board as main.py where versions were installed side by side: starts the one that the file "version" names.
#
# "version" holds two lines, the folder of the version in force and that of the one before. It is replaced in one step
# and only after all of a new folder was read back right, so whatever was interrupted, something whole starts.
import sys


def folders() -> list:
    """The folders named, in the order in which they are tried."""
    try:
        with open("version") as file:
            return [line.strip() for line in file if line.strip()]
    except OSError:
        return []


def start() -> None:
    """Start the first version that can be loaded."""
    for folder in folders():
        sys.path.insert(0, folder)
        try:
            __import__("main")
            return
        except Exception as error:
            # A version raises only what keeps it from its first turn (mat/app.py); later faults start the board anew.
            print("The version in", folder, "does not start:", repr(error))
            sys.path.remove(folder)
            for name in list(sys.modules):
                if name == "main" or name == "mat" or name.startswith("mat."):
                    del sys.modules[name]


start()
