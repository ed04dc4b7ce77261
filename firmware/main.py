# Starts the mat. A button held at power-up stops before it and leaves the MicroPython prompt.
from mat import app, board


def main() -> None:
    try:
        here = board.here()
    except board.UnknownBoardError as error:
        print("The mat is not started:", error)
        return
    if board.button_held(here):
        print("Button held at power-up: the mat is not started, this is the MicroPython prompt.")
        return
    app.App(here).run()


main()
