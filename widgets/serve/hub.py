"""`loopbook hub`: writes what a school's JupyterHub needs, for one host or for Kubernetes. Nothing is started by it."""

from __future__ import annotations

import importlib.util
import ipaddress
import json
import os
import re
import shutil
import stat
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from widgets.learn.lessons import shipped_lessons

HERE = Path(__file__).resolve().parent
PROXY = "configurable-http-proxy"
KEPT_BACK_MIB = 3 * 1024
"""Memory that hub, proxy and system keep for themselves [MiB]."""
LEARNER_MIB = 250
"""Memory of one learner who works [MiB]: server and kernel, proportional share (PSS), rounded up from what
`tests/bench/hub.py` measures."""
_NAME = re.compile(r"[a-z_][a-z0-9_-]{0,31}\Z")
_HOST = re.compile(r"(?=.{1,253}\Z)[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*\Z")
_IMAGE = re.compile(r"[a-z0-9][a-z0-9._/:-]{0,200}\Z")


class BadHub(ValueError):
    """Nothing can be written for such a hub. The message is one line: what, and how to mend it."""


@dataclass(frozen=True)
class Host:
    """A hub on one machine.

    learners, groups: system users, and groups of them, who may log in.  address, port: where browsers reach it.
    certificate, key: files for https.  plain_http: passwords may travel unencrypted.  domain: each learner gets a name
    of their own under it.  most: learners at once.  memory_mib: for each of a learner's processes, 0 for no limit.
    python: what learners' servers run with.  proxy: the proxy's program.
    """

    learners: Sequence[str] = ()
    groups: Sequence[str] = ()
    address: str = "127.0.0.1"
    port: int = 8000
    certificate: str = ""
    key: str = ""
    plain_http: bool = False
    domain: str = ""
    most: int = 0
    memory_mib: int = 2048
    idle_minutes: int = 60
    state: str = "/var/lib/loopbook-hub"
    sockets: str = "/run/loopbook-hub"
    python: str = sys.executable
    proxy: str = ""


def names(given: Iterable[str], what: str) -> list[str]:
    """System names, each once. Raises BadHub for what cannot be one.

    >>> names(["ann", "ben", "ann"], "learner")
    ['ann', 'ben']
    """
    found = list(dict.fromkeys(given))
    for name in found:
        if not _NAME.match(name):
            raise BadHub(f"--{what} {name[:40]!r}: is no system name; small letters, digits, - and _, at most 32")
        if name == "root":
            raise BadHub(f"--{what} root: root does not learn here; name the learners' own accounts")
    return found


def host_config(host: Host, config: str = "jupyterhub_config.py") -> str:
    """The text of a JupyterHub configuration. Raises BadHub.

    >>> "allowed_users = {'ann'}" in host_config(Host(learners=["ann"], python="/usr/bin/python3"))
    True
    """
    learners, groups = names(host.learners, "learner"), names(host.groups, "group")
    if not learners and not groups:
        raise BadHub("say who may log in, with --learner or --group")
    try:
        loopback = ipaddress.ip_address(host.address).is_loopback
    except ValueError:
        raise BadHub(f"--address {host.address[:60]!r}: is no address; 0.0.0.0 is every one of this machine's") from None
    if bool(host.certificate) != bool(host.key):
        raise BadHub("--certificate and --key go together")
    if not loopback and not host.certificate and not host.plain_http:
        raise BadHub(f"--address {host.address}: passwords would travel unencrypted; give --certificate and --key, put a proxy "
                     "with https before a hub on 127.0.0.1, or say --plain-http")
    if host.domain and not _HOST.match(host.domain):
        raise BadHub(f"--domain {host.domain[:60]!r}: is no name of a host")
    for name, path in (("state", host.state), ("sockets", host.sockets)):
        if not os.path.isabs(path):
            raise BadHub(f"--{name} {path}: give the whole path")
    if len(host.sockets) > 40:
        raise BadHub(f"--sockets {host.sockets}: at most 40 letters, or the names of sockets in it are too long for the system")
    scheme = "https" if host.certificate else "http"
    shown = f"[{host.address}]" if ":" in host.address else host.address
    # The hub's own pages and each learner's then stand under different names, and no page can read another's cookies.
    subdomains = f"c.JupyterHub.subdomain_host = {f'https://{host.domain}'!r}" if host.domain else (
        "# c.JupyterHub.subdomain_host = \"https://…\"    # see --domain: keeps one learner's pages from another's cookies")
    return _filled("hub_host.txt", {
        "config": config, "state": repr(host.state), "sockets": repr(host.sockets),
        "bind_url": repr(f"{scheme}://{shown}:{host.port}"), "certificate": repr(host.certificate), "key": repr(host.key),
        "proxy": repr([host.proxy or shutil.which(PROXY) or PROXY]), "subdomains": subdomains,
        "learners": _set(learners), "groups": _set(groups), "most": str(host.most or room_for()),
        "python": repr(host.python), "first": repr(first_lesson()), "idle": str(host.idle_minutes),
        "memory": str(host.memory_mib)})


def unit(host: Host, config: str) -> str:
    """The text of a systemd unit that starts the hub."""
    return _filled("hub_unit.txt", {"hub_python": sys.executable, "config": config, "state": host.state})


def room_for(total_mib: int | None = None) -> int:
    """How many learners may work at once in this much memory [MiB]; that of this machine unless given.

    >>> room_for(24 * 1024)
    86
    """
    if total_mib is None:
        total_mib = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") // 2**20
    return max(1, (total_mib - KEPT_BACK_MIB) // LEARNER_MIB)


def first_lesson() -> str:
    """The name of the lesson at which a learner arrives."""
    return shipped_lessons()[0].name


def kubernetes(image: str, host: str, *, tag: str = "1", most: int = 500, volume: str = "2Gi", guarantee: str = "320M",
               limit: str = "2G", cpu: float = 0.05, idle_minutes: int = 60) -> dict[str, str]:
    """The files for a cluster, by name: values of the chart, and what the image is built from. Raises BadHub.

    image, host: names of the image and of the host.  most: learners at once.  volume: of each learner's home.  guarantee, limit:
    memory of a seat, in Kubernetes' words.  cpu: share of a core that a seat is sure of [-].

    >>> sorted(kubernetes("images.example/loopbook", "learn.example"))
    ['Containerfile', 'values.yaml']
    """
    if not _IMAGE.match(image):
        raise BadHub(f"--image {image[:60]!r}: is no name of an image")
    if not re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,127}", tag):
        raise BadHub(f"--tag {tag[:60]!r}: is no tag of an image")
    if not _HOST.match(host):
        raise BadHub(f"--host {host[:60]!r}: is no name of a host")
    for flag, size in (("volume", volume), ("guarantee", guarantee), ("limit", limit)):
        if not re.fullmatch(r"[1-9][0-9]{0,8}(|[KMGT]i?)", size):
            raise BadHub(f"--{flag} {size[:20]!r}: is no size; write for example 2Gi")
    words = {"image": json.dumps(image), "tag": json.dumps(tag), "host": json.dumps(host), "most": str(most),
             "volume": volume, "guarantee": guarantee, "limit": limit, "cpu": f"{cpu:g}", "idle": str(idle_minutes),
             "idle_s": str(60 * idle_minutes), "first": json.dumps(f"/doc/tree/{first_lesson()}"),
             "spare": str(max(1, most // 20))}
    return {"values.yaml": _filled("hub_values.txt", words),
            "Containerfile": _filled("hub_image.txt", {"image": image, "tag": tag})}


def closed_to_learners(path: Path) -> str:
    """Why another user could not run or read this file: the first place on its way that is closed; '' where none is.

    >>> closed_to_learners(Path("/bin/sh"))
    ''
    """
    for place in (path, Path(os.path.realpath(path))):
        for folder in [*reversed(place.parents)]:
            if not folder.stat().st_mode & stat.S_IXOTH:
                return f"{folder}: is closed to others"
        if not place.stat().st_mode & stat.S_IROTH:
            return f"{place}: may not be read by others"
    return ""


def not_compiled() -> str:
    """The folder of libraries where JupyterHub lies without compiled modules, as some installers leave it; '' where it is
    compiled or not installed."""
    found = importlib.util.find_spec("jupyterhub")
    if found is None or found.origin is None or (Path(found.origin).parent / "__pycache__").is_dir():
        return ""
    return str(Path(found.origin).parents[1])


def put(folder: Path, files: Mapping[str, str], force: bool = False) -> list[Path]:
    """Write files into a folder, over none that is there unless forced. Raises BadHub, and then none is written."""
    targets = {folder / name: text for name, text in files.items()}
    there = [path for path in targets if os.path.lexists(path)]
    if there and not force:
        raise BadHub(f"{there[0]}: is there already; --force writes over it")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, text in targets.items():
            path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise BadHub(f"{error.filename or folder}: cannot be written: {error.strerror or error}") from None
    return list(targets)


def _set(words: list[str]) -> str:
    return "{" + ", ".join(map(repr, words)) + "}" if words else "set()"


def _filled(name: str, words: Mapping[str, str]) -> str:
    """A template with its words: every one is used and none is left."""
    text = (HERE / name).read_text(encoding="utf-8")
    wanted = set(re.findall(r"@(\w+)@", text))
    assert wanted <= set(words), wanted - set(words)
    return re.sub(r"@(\w+)@", lambda found: words[found[1]], text)
