"""Numba's disk cache goes to a folder of this checkout, outside it, which all runs and workers share.

What is kept there is good only for the kernels as they are now: its key is a digest of their whole room.

One thread for linear algebra: what is fitted here has a few hundred unknowns, and two threads that wait for each other
take five times the processor time of one.
"""

import hashlib
import os
import tempfile
from pathlib import Path

_checkout = hashlib.sha256(str(Path(__file__).resolve()).encode()).hexdigest()[:12]
os.environ.setdefault("NUMBA_CACHE_DIR", str(Path(tempfile.gettempdir()) / f"chipsim-test-kernels-{_checkout}"))
os.environ.setdefault("MPLBACKEND", "Agg")
for library in ("OPENBLAS", "OMP", "MKL"):
    os.environ.setdefault(f"{library}_NUM_THREADS", "1")
