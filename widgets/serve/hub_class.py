"""Class material to learners, and their answers back, copied as the learner: root's rights never follow a learner's links.

Whoever looks after the host calls this as root.  Everything that is read from or written into a learner's folder is done in
a child process that has become the learner first.  What the learner put there (links, pipes, devices, files without end,
strange names) can so do no more than the learner could; and what comes back from the child is bounded and checked again.
"""

from __future__ import annotations

import grp
import os
import pwd
import re
import select
import signal
import stat
import struct
import sys
import time
import traceback
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from .hub import BadHub

FOLDER = "Loopbook"
MOST_FILES, DEEPEST, LONGEST_PATH = 2000, 12, 400
PATIENCE_S = 120.0
_PART = re.compile(r"[^\x00-\x1f\x7f-\x9f/\\\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]{1,200}\Z")
_HEAD = struct.Struct(">IQ")


@dataclass(frozen=True, slots=True)
class Learner:
    """A system user who learns here."""

    name: str
    uid: int
    gid: int
    home: str


@dataclass(frozen=True, slots=True)
class Told:
    """What happened at one learner's: lines for who looks after the host. ok: nothing went wrong."""

    learner: str
    ok: bool
    lines: tuple[str, ...]


def learners(names: Iterable[str], groups: Iterable[str]) -> list[Learner]:
    """System users by name and by group, each once, by name. Raises BadHub for one that is none, or is root."""
    found: dict[str, Learner] = {}
    wanted = list(names)
    for group in groups:
        try:
            entry = grp.getgrnam(group)
        except KeyError:
            raise BadHub(f"--group {group}: there is no such group on this machine") from None
        wanted += [*entry.gr_mem, *(user.pw_name for user in pwd.getpwall() if user.pw_gid == entry.gr_gid)]
    if not wanted:
        raise BadHub("say whose, with --learner or --group")
    for name in wanted:
        try:
            user = pwd.getpwnam(name)
        except KeyError:
            raise BadHub(f"--learner {name}: there is no such user on this machine") from None
        if user.pw_uid == 0:
            raise BadHub(f"--learner {name}: root does not learn here")
        found[user.pw_name] = Learner(user.pw_name, user.pw_uid, user.pw_gid, user.pw_dir)
    return [found[name] for name in sorted(found)]


# -- what is copied: names and bytes, bounded ---------------------------------------------------------------

def safe(path: str) -> tuple[str, ...]:
    """The parts of a path below a folder. Raises BadHub for one that leads out of it or that a terminal could not show.

    >>> safe("week-3/plants/a.toml")
    ('week-3', 'plants', 'a.toml')
    >>> safe("../etc/passwd")
    Traceback (most recent call last):
    widgets.serve.hub.BadHub: '../etc/passwd': is no plain path below the folder
    """
    parts = tuple(path.split("/"))
    plain = all(_PART.match(part) and part not in (".", "..") for part in parts)
    if not plain or len(path) > LONGEST_PATH or len(parts) > DEEPEST:
        raise BadHub(f"{path[:80]!r}: is no plain path below the folder")
    return parts


def files_below(folder: int, path: str, most_bytes: int) -> Iterator[tuple[str, bytes]]:
    """The plain files at or below a path in an open folder: names and content. Links, pipes, devices and what is hidden are
    passed over.

    folder: a descriptor.  most_bytes: of all together.  Raises BadHub where there is more, and OSError where nothing is there.
    """
    left, count = most_bytes, 0
    todo = [safe(path)]
    while todo:
        parts = todo.pop(0)
        opened = _step(folder, parts)
        if opened is None:
            continue
        try:
            seen = os.fstat(opened)
            if stat.S_ISDIR(seen.st_mode):
                todo[:0] = [(*parts, name) for name in sorted(os.listdir(opened))
                            if _PART.match(name) and name[0] != "." and len(parts) < DEEPEST]
                continue
            if not stat.S_ISREG(seen.st_mode):
                continue
            count += 1
            content = _read(opened, left)
            left -= len(content)
        finally:
            os.close(opened)
        if count > MOST_FILES:
            raise BadHub(f"{path}: more than {MOST_FILES} files")
        yield "/".join(parts), content


def _step(folder: int, parts: tuple[str, ...]) -> int | None:
    """A descriptor of what stands at a path, no link followed on the way; None where a link or the like stands there."""
    here = os.dup(folder)
    for n, part in enumerate(parts):
        last = n == len(parts) - 1
        try:
            there = os.open(part, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC | (0 if last else os.O_DIRECTORY),
                            dir_fd=here)
        except OSError as error:
            if n == 0 and isinstance(error, FileNotFoundError):
                raise
            return None
        finally:
            os.close(here)
        here = there
    return here


def _read(opened: int, most: int) -> bytes:
    content = bytearray()
    while part := os.read(opened, min(1 << 20, most + 1 - len(content))):
        content += part
        if len(content) > most:
            raise BadHub("more than may be copied at once; --most-mib allows more")
    return bytes(content)


# -- as the learner -----------------------------------------------------------------------------------------

def as_learner(who: Learner, do: Callable[[int], None]) -> Iterator[bytes]:
    """Run something in a child that has become the learner for good; yields what it writes to the descriptor it is given.

    Raises BadHub with what the child said where it failed, took too long, or cannot be started.
    """
    if os.geteuid() not in (0, who.uid):
        raise BadHub("only root can act for learners; run this with sudo")
    read_end, write_end = os.pipe()
    trouble, say = os.pipe()
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        _child(who, do, [read_end, trouble], write_end, say)
    os.close(write_end)
    os.close(say)
    over = time.monotonic() + PATIENCE_S
    try:
        while select.select([read_end], [], [], max(0.0, over - time.monotonic()))[0]:
            part = os.read(read_end, 1 << 16)
            if not part:
                break
            yield part
        else:
            raise BadHub(f"gave up after {PATIENCE_S:.0f} s")
        said = os.read(trouble, 2000).decode("utf-8", "replace")
        if said:
            raise BadHub(said)
    finally:
        for descriptor in (read_end, trouble):
            os.close(descriptor)
        os.kill(child, signal.SIGKILL)      # a child that is over already waits to be asked for, and does not mind
        os.waitpid(child, 0)


def _child(who: Learner, do: Callable[[int], None], ours: list[int], write_end: int, say: int) -> None:
    """Never comes back."""
    try:
        for descriptor in ours:
            os.close(descriptor)
        if os.geteuid() == 0:
            os.setgroups(os.getgrouplist(who.name, who.gid))
            os.setresgid(who.gid, who.gid, who.gid)
            os.setresuid(who.uid, who.uid, who.uid)
        os.umask(0o077)
        do(write_end)
    except (BadHub, OSError) as error:
        where = f"{error.filename}: " if isinstance(error, OSError) and error.filename else ""
        os.write(say, f"{where}{getattr(error, 'strerror', None) or error}".encode()[:2000])
    except BaseException:
        os.write(say, traceback.format_exc(limit=1).encode()[:2000])
    finally:
        os._exit(0)


def hand_out(sources: Iterable[Path], to: Iterable[Learner], *, place: str = "handed-out", most_bytes: int) -> Iterator[Told]:
    """Put files and folders into each learner's lessons, in a folder of their own; what is there is never written over.

    place: the folder's path within the learner's lessons.  most_bytes: of all sources together.  Raises BadHub where a
    source cannot be read or is too much; what goes wrong at one learner's is told, and the others get theirs.
    """
    files: list[tuple[str, bytes]] = []
    target = safe(place)
    for source in sources:
        try:
            parent = os.open(source.resolve().parent, os.O_RDONLY | os.O_DIRECTORY)
        except OSError as error:
            raise BadHub(f"{source}: {(error.strerror or str(error)).lower()}") from None
        try:
            files += files_below(parent, source.resolve().name, most_bytes - sum(len(content) for _, content in files))
        except OSError as error:
            raise BadHub(f"{source}: {(error.strerror or str(error)).lower()}") from None
        finally:
            os.close(parent)
    if not files:
        raise BadHub("there is nothing to hand out")
    for who in to:
        def write(out: int, who: Learner = who) -> None:
            folder = os.open(who.home, os.O_RDONLY | os.O_DIRECTORY)
            for part in (FOLDER, *target):
                folder = _below(folder, part)
            for name, content in files:
                os.write(out, (_put(folder, name, content) + "\n").encode())
        yield _told(who, write)


def _told(who: Learner, do: Callable[[int], None]) -> Told:
    try:
        said = b"".join(as_learner(who, do)).decode("utf-8", "replace")
    except BadHub as bad:
        return Told(who.name, False, (str(bad),))
    return Told(who.name, True, tuple(said.splitlines()))


def _below(folder: int, part: str) -> int:
    """A folder in a folder, made where it is missing; no link is followed."""
    try:
        os.mkdir(part, 0o700, dir_fd=folder)
    except FileExistsError:
        there = os.stat(part, dir_fd=folder, follow_symlinks=False)
        if not stat.S_ISDIR(there.st_mode):
            raise BadHub(f"{part}: is a link or a file, not a folder") from None
    found = os.open(part, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW, dir_fd=folder)
    os.close(folder)
    return found


def _put(folder: int, name: str, content: bytes) -> str:
    """Write one file, beside one that is there and differs; what was done, in a line."""
    *way, last = safe(name)
    here = os.dup(folder)
    for part in way:
        here = _below(here, part)
    stem, dot, ending = last.rpartition(".")
    tries = [last, *(f"{stem or ending} (new{f' {n}' if n > 1 else ''}){dot if stem else ''}{ending if stem else ''}"
                     for n in range(1, 50))]
    try:
        for one in tries:
            try:
                opened = os.open(one, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW, 0o600, dir_fd=here)
            except FileExistsError:
                if _same(here, one, content):
                    return f"{name}: is there already"
                continue
            with os.fdopen(opened, "wb") as file:
                file.write(content)
            return f"{name}: put there" if one == last else f"{name}: changed by the learner, so put beside it as {one}"
    finally:
        os.close(here)
    raise BadHub(f"{name}: there are too many of it already")


def _same(folder: int, name: str, content: bytes) -> bool:
    opened = _step(folder, (name,))
    if opened is None:
        return False
    try:
        return stat.S_ISREG(os.fstat(opened).st_mode) and os.read(opened, len(content) + 1) == content
    except OSError:
        return False
    finally:
        os.close(opened)


# -- and back -----------------------------------------------------------------------------------------------

def collect(what: str, of: Iterable[Learner], to: Path, *, most_bytes: int) -> Iterator[Told]:
    """Copy a file or folder of each learner's lessons into a new folder of the instructor's, one folder a learner.

    what: a path within the learner's lessons.  most_bytes: of one learner.  Raises BadHub where `to` is not new or empty.
    Links are passed over; what cannot be read by the learner is not read.
    """
    safe(what)
    try:
        to.mkdir(mode=0o700, parents=True, exist_ok=True)
        if any(to.iterdir()):
            raise BadHub(f"{to}: is not empty; name a new folder")
    except OSError as error:
        raise BadHub(f"{to}: {(error.strerror or str(error)).lower()}") from None
    for who in of:
        def read(out: int, who: Learner = who) -> None:
            lessons = os.open(os.path.join(who.home, FOLDER), os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
            for name, content in files_below(lessons, what, most_bytes):
                told = name.encode()
                _write_all(out, _HEAD.pack(len(told), len(content)) + told + content)
        lines: list[str] = []
        try:
            for name, content in _unpacked(as_learner(who, read), most_bytes):
                target = to / who.name / Path(*safe(name))
                target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                opened = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW, 0o600)
                with os.fdopen(opened, "wb") as file:
                    file.write(content)
                lines.append(f"{name}: {len(content)} bytes")
        except (BadHub, OSError) as bad:
            yield Told(who.name, False, (*lines, str(bad)))
            continue
        yield Told(who.name, bool(lines), tuple(lines) or (f"{what}: there is nothing",))


def _write_all(out: int, content: bytes) -> None:
    view = memoryview(content)
    while view:
        view = view[os.write(out, view):]


def _unpacked(parts: Iterable[bytes], most_bytes: int) -> Iterator[tuple[str, bytes]]:
    """Names and contents out of what a child wrote. The child is the learner by then, so nothing it says is believed."""
    held, total, count = bytearray(), 0, 0
    for part in parts:
        held += part
        while len(held) >= _HEAD.size:
            name, size = _HEAD.unpack_from(held)
            if name > 4 * LONGEST_PATH or total + size > most_bytes or count >= MOST_FILES:
                raise BadHub("more came than may be copied at once")
            if len(held) < _HEAD.size + name + size:
                break
            start = _HEAD.size + name
            yield held[_HEAD.size:start].decode("utf-8", "replace"), bytes(held[start:start + size])
            del held[:start + size]
            total, count = total + size, count + 1
    if held:
        raise BadHub("what came breaks off")


def homes(of: Iterable[Learner], mend: bool) -> Iterator[Told]:
    """Whether each home belongs to its learner and is closed to others. mend: close it, as the learner."""
    from .seat import NoSeat, close

    for who in of:
        try:
            seen = os.lstat(who.home)
        except OSError as error:
            yield Told(who.name, False, (f"{who.home}: {(error.strerror or str(error)).lower()}",))
            continue
        mode = stat.S_IMODE(seen.st_mode)
        if not stat.S_ISDIR(seen.st_mode) or seen.st_uid != who.uid:
            yield Told(who.name, False, (f"{who.home}: is not a folder of this learner's own",))
        elif not mode & 0o077:
            yield Told(who.name, True, (f"{who.home}: closed ({mode:o})",))
        elif not mend:
            yield Told(who.name, False, (f"{who.home}: open to others ({mode:o}); --mend closes it",))
        else:
            def shut(out: int, who: Learner = who, mode: int = mode) -> None:
                try:
                    close(Path(who.home))
                except NoSeat as bad:
                    raise BadHub(str(bad)) from None
                os.write(out, f"{who.home}: was open to others ({mode:o}), now closed".encode())
            yield _told(who, shut)
