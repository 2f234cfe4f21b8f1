"""Numba's disk cache goes to a folder of its own, so that no stale kernel of another checkout is ever tested."""

import os
import tempfile
from pathlib import Path

os.environ.setdefault("NUMBA_CACHE_DIR", str(Path(tempfile.gettempdir()) / f"chipsim-test-kernels-{os.getpid()}"))
os.environ.setdefault("MPLBACKEND", "Agg")
