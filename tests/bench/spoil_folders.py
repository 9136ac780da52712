"""Ways to spoil what stands in folders: a learner's record, and the answers of a class with their key."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import random
import sqlite3
import tomllib
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from .spoil import FIT, HOSTILE, Spoil, as_toml, bent, spoilt

NAMES = ("=1+1.toml", "<x-bad onload=a()>.toml", "a\nb.csv", "..toml", "n" * 200 + ".toml", "\u202egnp.toml", "\x1b[31m.csv",
         "kim;=1+1.toml", "x.xlsx", "~$x.toml", "key.json", "deep/er/kim.toml", "\udcff.toml", "-.toml", "'x'.jsonl", "x.TSV",
         "&lt;b&gt;.csv", "no ending")
SPOILT = (ValueError, csv.Error, RecursionError, LookupError, TypeError, AttributeError, ArithmeticError)
"""What a file that was spoilt before does to whoever spoils it again."""


# -- answers ------------------------------------------------------------------------------------------------

def spoil_answers(folder: Path, outside: Path, chance: random.Random) -> None:
    """One to three things wrong with a folder of answers."""
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        files = sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())
        if not files:
            return
        chance.choices((_content, _stray), (6, 1))[0](folder, outside, files, chance)


def _content(_folder: Path, _outside: Path, files: list[Path], chance: random.Random) -> None:
    path = chance.choice(files)
    data = path.read_bytes()
    by_kind: dict[str, Spoil] = {".toml": _form, ".csv": _table, ".jsonl": _rows, ".json": _json}
    if path.suffix in by_kind and chance.random() < 0.7:
        with suppress(*SPOILT):
            data = by_kind[path.suffix](data, chance)
    else:
        data = spoilt(data, chance)
    path.write_bytes(data)


def _form(data: bytes, chance: random.Random) -> bytes:
    tree = tomllib.loads(data.decode())
    way = chance.randrange(4)
    if way == 0:
        tree["learner"] = chance.choice((*HOSTILE, *FIT))
    elif way == 1:
        number = chance.choice(list(tree["answers"]))
        tree["answers"][number] = chance.choice((*HOSTILE, *FIT, "A", "b", "A, B", "С", ["A", "B"], 7, 16**5000))
    elif way == 2:
        tree["answers"][chance.choice(("0", "400", "401", "²", "٣", "1e3", "-1", "99999"))] = "A"
    else:
        tree = bent(tree, chance)
    return as_toml(tree).encode("utf-8", "replace")


def _table(data: bytes, chance: random.Random) -> bytes:
    rows = [row for row in csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")) if row] or [["learner", "code", "1"]]
    for _ in range(chance.choice((1, 1, 3))):
        row = chance.choice(rows)
        way = chance.randrange(7)
        if way <= 2:
            row[chance.randrange(len(row))] = chance.choice((*HOSTILE, *FIT, "A", "b,c", "x" * 140_000))
        elif way == 3:
            row.append(chance.choice(HOSTILE))
        elif way == 4:
            rows.insert(chance.randrange(len(rows)), list(row))
        elif way == 5 and len(rows) > 1:
            rows.remove(row)
        else:
            row[:] = [row[0], *row[:0:-1]]
    out = io.StringIO()
    separator = chance.choice(",,,;\t|")
    csv.writer(out, delimiter=separator).writerows(rows)
    text = (f"sep={chance.choice((separator, chr(34), chr(0), ' ', 'x'))}\n" if chance.random() < 0.15 else "") + out.getvalue()
    return text.encode(chance.choice(("utf-8", "utf-8-sig", "utf-16", "cp1252")), "replace")


def _rows(data: bytes, chance: random.Random) -> bytes:
    rows = [json.loads(line) for line in data.splitlines()]
    at = chance.randrange(len(rows))
    way = chance.randrange(6)
    if way <= 3:
        rows[at] = bent(rows[at], chance)
    elif way == 4:
        rows.insert(chance.randrange(len(rows)), rows[at])
    else:
        del rows[at]
    return _dumped(rows, chance)


def _dumped(rows: list[Any], chance: random.Random) -> bytes:
    return "".join(json.dumps(row, ensure_ascii=chance.random() < 0.5) + "\n" for row in rows).encode("utf-8", "replace")


def _json(data: bytes, chance: random.Random) -> bytes:
    text = json.dumps(bent(json.loads(data), chance))
    if chance.random() < 0.3:
        figures = chance.choice((": NaN", ": Infinity", ": 1e999", ": true"))
        text = text.replace(chance.choice((": 0.0", ": 1", ": null")), figures, 1)
    return text.encode()


def _stray(folder: Path, outside: Path, files: list[Path], chance: random.Random) -> None:
    """A file under another name, a link that leads out, or what is no file at all."""
    path = chance.choice(files)
    way = chance.randrange(8)
    with suppress(OSError, ValueError):
        if way <= 2:
            new = folder / "answers" / chance.choice(NAMES)
            new.parent.mkdir(exist_ok=True, parents=True)
            path.rename(new) if chance.random() < 0.5 else new.write_bytes(path.read_bytes())
        elif way == 3:
            (folder / "answers" / "linked.toml").symlink_to(outside / "secret.toml")
        elif way == 4:
            (folder / "answers" / "loop").symlink_to(folder)
        elif way == 5:
            path.unlink()
            path.mkdir()
        elif way == 6:
            os.mkfifo(folder / "answers" / "pipe.toml")
        else:
            report = folder / "report"
            report.mkdir()
            for name in ("report.html", "learners.csv"):
                (report / f".{name}.part").symlink_to(outside / "kept.txt")


# -- the record ---------------------------------------------------------------------------------------------

CELLS = (None, b"\xff\x00", 2**62, -1, 1e308, "", " ", "9999-12-31T23:59:59Z", "0001-01-01", "x", "[]", "{}", "null", "[1, 2]",
         '"\\ud800"', "NaN", "Infinity", "1e999", '{"event": "start"}', '{"try": "x"}',
         '{"event": "start", "blueprint": "", "slots": [], "at": ""}',
         '{"number": true}', '{"at": 5}', '{"misconception": []}', "[" * 3000 + "]" * 3000, f'{{"x": {"[" * 500}{"]" * 500}}}',
         '{"on": 1, "event": "flag"}',
         *HOSTILE, *map(json.dumps, HOSTILE), *FIT)
COLUMNS = ("at", "learner", "kind", "exercise", "item", "objective", "seed", "plant", "answer", "points", "of", "hand", "more")


def spoil_record(folder: Path, outside: Path, chance: random.Random) -> None:
    """One to three things wrong with a record."""
    for _ in range(chance.choice((1, 1, 2, 3))):
        files = sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())
        if not files:
            return
        way = chance.choices((_as_text, _as_database, _as_lines, _beside), (3, 5, 3, 2))[0]
        with suppress(OSError, sqlite3.Error, *SPOILT):
            way(folder, outside, files, chance)


def _as_text(_folder: Path, _outside: Path, files: list[Path], chance: random.Random) -> None:
    path = chance.choice(files)
    path.write_bytes(spoilt(path.read_bytes(), chance))


def _as_database(folder: Path, _outside: Path, _files: list[Path], chance: random.Random) -> None:
    """A row, or the database itself, changed by another program; the second copy is there or not."""
    with closing(sqlite3.connect(folder / "record.sqlite3", isolation_level=None)) as database:
        database.execute("PRAGMA synchronous = OFF")
        database.execute("DROP TRIGGER IF EXISTS rows_stay")
        many = database.execute("SELECT max(id) FROM rows").fetchone()[0]
        way = chance.randrange(10)
        for _ in range(chance.choice((1, 1, 4))):
            if way <= 6:
                database.execute(f'UPDATE OR IGNORE rows SET "{chance.choice(COLUMNS)}" = ? WHERE id = ?',
                                 (chance.choice(CELLS), chance.randint(1, many)))
        if way == 7:
            database.execute("UPDATE OR IGNORE plants SET text = ?", (chance.choice(CELLS),))
        elif way == 8:
            database.execute(f"PRAGMA user_version = {chance.choice((0, 2, 99))}")
        elif way == 9:
            database.execute(chance.choice((
                "DROP TABLE plants", "DROP TABLE rows", "ALTER TABLE rows RENAME TO rows2", "ALTER TABLE rows DROP COLUMN hand",
                "DROP TRIGGER rows_remain", "UPDATE rows SET id = id + 9000000000", "INSERT INTO plants VALUES ('x', 'y')",
                "CREATE TRIGGER strange AFTER INSERT ON rows BEGIN DELETE FROM plants; END", "VACUUM")))
    if chance.random() < 0.6:
        (folder / "record.jsonl").unlink(missing_ok=True)


def _as_lines(folder: Path, _outside: Path, _files: list[Path], chance: random.Random) -> None:
    """A line of the second copy changed, and its sum made right again; the database is there or not."""
    path = folder / "record.jsonl"
    lines = path.read_bytes().splitlines()
    at = chance.randrange(len(lines))
    whole = json.loads(lines[at])
    what = "row" if "row" in whole else "plant"
    cells = whole[what]
    if chance.random() < 0.7:
        cells[chance.choice((*COLUMNS, "id", "version"))] = chance.choice([cell for cell in CELLS if not isinstance(cell, bytes)])
    else:
        cells = bent(cells, chance)
    body = json.dumps(cells).encode()
    lines[at] = b'{"sum": "%s", "%s": %s}' % (hashlib.sha256(body).hexdigest()[:16].encode(), what.encode(), body)
    path.write_bytes(b"\n".join(lines) + b"\n")
    if chance.random() < 0.7:
        (folder / "record.sqlite3").unlink(missing_ok=True)


def _beside(folder: Path, _outside: Path, _files: list[Path], chance: random.Random) -> None:
    """A file lost, left over, or none at all. (A link is the learner's own: a record may lie where they like.)"""
    name = "record." + chance.choice(("sqlite3", "jsonl", "lock", "sqlite3-journal", "sqlite3-check", "sqlite3.new"))
    path = folder / name
    way = chance.randrange(4)
    if path.exists() and way < 3:
        path.unlink()
    if way == 1:
        path.mkdir()
    elif way == 2:
        journal = b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + bytes(600)
        path.write_bytes(chance.choice((b"", journal, b"SQLite format 3\x00", b"x" * 5000)))
