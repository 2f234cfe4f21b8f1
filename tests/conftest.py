"""Numba's disk cache goes to a folder of its own, so that no stale kernel of another checkout is ever tested.

One thread for linear algebra: what is fitted here has a few hundred unknowns, and two threads that wait for each other
take five times the processor time of one.
"""

import os
import tempfile
from pathlib import Path

os.environ.setdefault("NUMBA_CACHE_DIR", str(Path(tempfile.gettempdir()) / f"chipsim-test-kernels-{os.getpid()}"))
os.environ.setdefault("MPLBACKEND", "Agg")
for library in ("OPENBLAS", "OMP", "MKL"):
    os.environ.setdefault(f"{library}_NUM_THREADS", "1")
