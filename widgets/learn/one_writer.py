"""One at a time in the record's files, also on a network home: a lock on one byte of a file.

It is the lock that SQLite itself takes there, so a home that can hold a record can hold this.  The system lets go of it
when its holder dies, however that comes about.
"""

from __future__ import annotations

import errno
import os
import random
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

if sys.platform == "win32":
    import msvcrt

    def _take(file: int) -> None:
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _take(file: int) -> None:
        fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB, 1)

NO_RIGHT = (errno.EACCES, errno.EPERM, errno.EROFS)
LONGEST_SLEEP_S = 0.005
_threads = threading.RLock()
_held: set[tuple[int, Path]] = set()


class Busy(OSError):
    """Somebody else held the lock for longer than was waited."""


@contextmanager
def one_writer(path: Path, wait_s: float) -> Iterator[None]:
    """Hold the lock on a file, made if need be; who holds it already goes on holding it.

    wait_s: how long to wait for it [s].  Where the folder may only be read there is nothing to guard, and no lock.
    Raises Busy, or OSError where the file cannot be made.

    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "a.lock"
    >>> with one_writer(path, 1.0), one_writer(path, 1.0):
    ...     path.exists()
    True
    """
    # The system's lock is one process's, and is lost when any of its files is closed: threads keep each other out here.
    if not _threads.acquire(timeout=wait_s):
        raise Busy(errno.EAGAIN, "database is locked", str(path))
    try:
        me = (os.getpid(), path)        # a forked child holds nothing of its parent's
        if me in _held:
            yield
            return
        try:
            file = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as error:
            if error.errno not in NO_RIGHT:
                raise
            yield
            return
        try:
            _wait(file, path, wait_s)
            _held.add(me)
            yield
        finally:
            _held.discard(me)
            os.close(file)
    finally:
        _threads.release()


def _wait(file: int, path: Path, wait_s: float) -> None:
    until = time.monotonic() + wait_s
    while True:
        try:
            _take(file)
            return
        except OSError as error:
            if error.errno not in (errno.EACCES, errno.EAGAIN, errno.EDEADLK):
                raise
            if time.monotonic() >= until:
                raise Busy(errno.EAGAIN, "database is locked", str(path)) from error
        time.sleep(random.uniform(0.0005, LONGEST_SLEEP_S))
