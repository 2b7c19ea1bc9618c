"""One core for each test process, and the long ones first.

pytest-xdist runs a process on each core; these and the commands the tests start must keep to theirs, or
threads of OpenCV and OpenBLAS wait for one another. Both read the environment when they are loaded.
"""

from __future__ import annotations

import os

from hypothesis import settings

for name in ("OPENBLAS_NUM_THREADS", "OPENCV_FOR_THREADS_NUM"):
    os.environ.setdefault(name, "1")

# A commit is tried on the same examples each time, however busy the machine; the long run looks for new ones.
settings.register_profile("usual", derandomize=True, deadline=None, database=None)
settings.register_profile("long", max_examples=100_000)
settings.load_profile("usual")
