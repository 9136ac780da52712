"""Files that are written whole or not at all: a full disk, a crash or a link in their place spoils nothing."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_whole(place: Path, content: bytes, rights: int | None = None) -> None:
    """Write beside the place and then move there, over whatever stands there. When this returns, it is on the disk.

    rights: of the file; those of any new file of this user's unless given.  Raises OSError, with what was there left as it was.

    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_whole(Path(folder) / "a.txt", b"whole")
    ...     os.listdir(folder)
    ['a.txt']
    """
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=".loopbook-", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, _usual() if rights is None else rights)
        os.replace(name, place)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _usual() -> int:
    mask = os.umask(0o077)      # the one way to ask for it
    os.umask(mask)
    return 0o666 & ~mask
