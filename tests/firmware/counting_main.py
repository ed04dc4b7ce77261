# Runs the mat with the garbage collector off and tells what the heap has grown by over many frames (MicroPython).
import gc

from mat import app, board, tally

FRAMES = 10000
before = grown = 0  # a name that is new takes heap of its own

mat = app.App(board.here())
mat.link.open()
mat.prove_rows()
while mat.tally[tally.SENT] < 100:  # the host starts it; the first frames fill what is made once
    mat.turn()
gc.collect()
gc.disable()
while mat.tally[tally.SENT] < 200:  # what the collector has taken is made once more
    mat.turn()
before = gc.mem_alloc()
while mat.tally[tally.SENT] < 200 + FRAMES:
    mat.turn()
grown = gc.mem_alloc() - before
gc.enable()
mat.event(200, f"{grown} bytes in {mat.tally[tally.SENT] - 200} frames sent, {mat.tally[tally.SKIPPED]} skipped")
mat.run()
