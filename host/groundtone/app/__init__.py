"""The command line: it calls the rooms upstream and holds no computation."""

import os

# Before numpy is loaded: on matrices as small as a mat's more threads than one cost four times the processor and
# no less time, which the sound beside them would miss. Who has set it otherwise keeps it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
