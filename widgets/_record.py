"""What `loopbook record` does and says."""

from __future__ import annotations

import argparse

from widgets._text import plain
from widgets.learn import Record, RecordTrouble, keeping


def told(options: argparse.Namespace) -> str:
    """Do what is asked of the record, and tell it as text. Raises RecordTrouble."""
    record = Record(options.folder, options.learner)
    if options.do == "show":
        lines = keeping.shown(record)
    elif options.do == "export":
        rows = record.rows(everyone=options.everyone)
        text = keeping.as_csv(rows) if options.format == "csv" else keeping.as_json_lines(rows)
        if options.out is None:
            return text
        try:
            with open(options.out, "x", encoding="utf-8", newline="") as file:
                file.write(text)
        except OSError as error:
            raise RecordTrouble(f"{options.out}: cannot be written: {error.strerror or error}") from error
        lines = [f"{len(rows)} rows written to {options.out}"]
    elif options.do == "back-up":
        lines = [f"The record was copied to {keeping.back_up(record, options.out or '.')}"]
    elif options.yes:
        lines = [f"{keeping.forget(record)} rows of {record.learner} were deleted"]
        if aside := keeping.set_aside(record):
            lines.append(f"These were set aside as damaged, and may hold rows still; delete them yourself: {', '.join(aside)}")
    else:
        raise RecordTrouble(f"forgetting cannot be undone; add --yes to delete all that is kept of {record.learner}")
    return "".join(f"{plain(line)}\n" for line in [*([record.notice] if record.notice else []), *lines])
