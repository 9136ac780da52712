"""How a learner stands, on one page: what to practise next, objectives, mistakes, examinations, charts, and their own copy."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import ipywidgets

from widgets.learn import OBJECTIVES, Record
from widgets.learn.consent import own_record
from widgets.learn.keeping import HONEST, as_csv, as_json_lines
from widgets.learn.lessons import titles
from widgets.learn.progress import Held, Progress, Stand, Taken, progress_of

from .pieces import Note, box, picture_html
from .quiz import told

if TYPE_CHECKING:
    from figures.drawing.charts import Chart

FIRST = ("Nothing is kept for {learner} yet. Do this first: answer the questions of a lesson, or practise for ten minutes with "
         "Quiz(). Then come back to this page.")
LEFT_OUT = "{n} of your record could not be understood and {are} left out: made by another Loopbook, perhaps."
HOW_MANY_NEXT, MOST_DAYS = 5, 90
SAVED = {"JSON Lines": (".jsonl", as_json_lines), "CSV": (".csv", as_csv)}
Clock = Callable[[], datetime]


class ProgressPage(ipywidgets.VBox):
    """How a learner stands. record: whose; the user's own unless said.  clock: the time now, UTC.  folder: where copies are
    saved; the one that the notebook stands in unless said.

    Charts are drawn when they are asked for, and matplotlib is loaded then. A record that cannot be read is said in a sentence.
    """

    def __init__(self, record: Record | None = None, clock: Clock = lambda: datetime.now(UTC),
                 folder: str | Path = ".") -> None:
        self.clock, self.folder = clock, Path(folder)
        self._record = record
        self.progress: Progress | None = None
        self.head, self.report, self.charted = Note(heading=3), Note(live=True), Note()
        self.page, self.chart_box = ipywidgets.HTML(), ipywidgets.HTML()
        self.page.add_class("lb-progress")
        self.chart_box.add_class("lb-progress-chart")
        self.buttons = {name: ipywidgets.Button(description=name) for name in
                        ("Chart of objectives", "Chart of days", *(f"Save as {name}" for name in SAVED), "Read again")}
        acts = (self._on_objectives, self._on_days, self._on_json, self._on_csv, self._on_again)
        for button, act in zip(self.buttons.values(), acts):
            button.on_click(act)
        self.bar = box("lb-bar", *self.buttons.values())
        super().__init__([self.head, self.page, self.bar, self.report, self.chart_box, self.charted,
                          Note(tone="caution", text=HONEST)])
        self.add_class("lb-exercise")
        self._on_again(None)

    def __repr__(self) -> str:
        return f"<Progress: {sum(stand.answers for stand in self.progress.asked) if self.progress else 0} answers>"

    def tell(self, text: str, tone: Literal["plain", "right", "wrong", "trouble"] = "plain") -> None:
        """Say something below the buttons."""
        self.report.say(text, tone)

    def read(self) -> None:
        """Read the record anew. Raises RecordTrouble, or ValueError where a row of it is damaged."""
        self.progress, self.page.value = None, ""
        self.chart_box.value = self.charted.text = ""
        self.head.text = "How you stand"
        self.tell("")
        record = self._record = self._record or own_record()
        for name, button in self.buttons.items():
            button.disabled = name != "Read again"
        self.bar.children = (self.buttons["Read again"],)
        found = progress_of(record, self.clock())
        self.progress = found
        self.head.text = f"How {'you stand' if found.learner == 'me' else f'{found.learner} stands'}"
        if found.empty:
            self.tell(FIRST.format(learner="you" if found.learner == "me" else found.learner))
        else:
            self.page.value = page_of(found, self.clock(), lessons_there())
            for button in self.buttons.values():
                button.disabled = False
            for name in ("Chart of objectives", "Chart of days"):
                self.buttons[name].disabled = not found.asked
        self.bar.children = tuple(button for button in self.buttons.values() if not button.disabled)
        if found.not_understood:
            n = found.not_understood
            self.tell(LEFT_OUT.format(n="One row" if n == 1 else f"{n} rows", are="is" if n == 1 else "are"), "trouble")
        if record.notice:
            self.tell(f"{record.take_notice()} {self.report.text}".strip(), "trouble")

    def save(self, form: str) -> Path:
        """Save a copy of the record, 'JSON Lines' or 'CSV', under a new name, and return where. Raises RecordTrouble."""
        assert self._record is not None
        ending, written = SAVED[form]
        text = written(self._record.rows())
        stem = f"loopbook-record-{self.clock().astimezone():%Y-%m-%d-%H%M%S}"
        for n in range(1, 100):
            path = self.folder / f"{stem}{'' if n == 1 else f'-{n}'}{ending}"
            try:
                with path.open("x", encoding="utf-8", newline="") as file:
                    file.write(text)
            except FileExistsError:
                continue
            except OSError as error:
                raise ValueError(f"{path.name} cannot be written here: {error.strerror or error}.") from error
            return path
        raise ValueError("There are a hundred copies of this second already; wait for the next one.")

    def _save(self, form: str) -> None:
        path = self.save(form)
        self.tell(f"Saved as {path.name}, beside this notebook." if self.folder == Path(".") else f"Saved as {path}.", "right")

    def _show(self, name: str, made: Chart) -> None:
        first, _, rest = made.alt.partition("\n")
        self.chart_box.value = (f'<div class="lb-scroll" role="region" aria-label="{escape(name)}" tabindex="0">'
                                f'{picture_html(made.svg(), f"{first} The figures stand below.")}</div>')
        self.charted.text = rest

    @told
    def _on_objectives(self, button: object) -> None:
        if self.progress is not None and self.progress.asked:
            self._show("Chart of objectives", objectives_chart_of(self.progress))

    @told
    def _on_days(self, button: object) -> None:
        if self.progress is not None and self.progress.days:
            self._show("Chart of days", days_chart_of(self.progress))

    @told
    def _on_json(self, button: object) -> None:
        self._save("JSON Lines")

    @told
    def _on_csv(self, button: object) -> None:
        self._save("CSV")

    @told
    def _on_again(self, button: object) -> None:
        try:
            self.read()
        except (KeyError, TypeError, ValueError) as error:
            raise ValueError(f"A row of your record is damaged, so that it cannot be read ({error}). "
                             "“loopbook record back-up” keeps a copy; then move the file away: a new one is begun.") from error


def progress(record: Record | None = None) -> ProgressPage:
    """How a learner stands: see `ProgressPage`. record: whose; the user's own unless said.

    >>> import tempfile
    >>> progress(Record(tempfile.mkdtemp()))
    <Progress: 0 answers>
    """
    return ProgressPage(record)


def lessons_there() -> frozenset[int]:
    """Numbers of the lessons that come with this Loopbook."""
    return frozenset(titles())


# -- charts: from the summary to plain arrays ---------------------------------------------------------------------


def objectives_chart_of(found: Progress) -> Chart:
    """How each objective that was asked about stands."""
    from figures.drawing.charts_progress import objectives_chart

    stands = found.asked
    ends = [stand.interval for stand in stands]
    return objectives_chart([s.code for s in stands], [s.right for s in stands], [s.answers for s in stands],
                            [low for low, _ in ends], [high for _, high in ends], [s.objective.weight for s in stands],
                            [s.objective.must_pass for s in stands])


def days_chart_of(found: Progress) -> Chart:
    """The answers of the last days, counted from the newest answer."""
    from figures.drawing.charts_progress import days_chart

    first = found.days[-1].day - timedelta(days=MOST_DAYS - 1)
    days = [one for one in found.days if one.day >= first]
    title = f"Answers by day, the last {MOST_DAYS} days" if len(days) < len(found.days) else ""
    return days_chart([d.day for d in days], [d.answers for d in days], [d.right for d in days], title=title)


# -- the page, as text in HTML --------------------------------------------------------------------------------------


def page_of(found: Progress, now: datetime, there: Iterable[int] = ()) -> str:
    """The page; all that a learner or a file wrote is escaped. there: numbers of the lessons that can be opened."""
    parts = [_next(found), _objectives(found.asked, now) if found.asked else ""]
    new = [stand for stand in found.objectives if not stand.answers]
    if new and found.asked:
        parts.append(f"<p>Not asked yet: {', '.join(stand.code for stand in new)}.</p>")
    if found.held:
        rows = "".join(_held(held, frozenset(there)) for held in found.held)
        parts.append(f"<h4>Mistakes that you made, and what puts them right</h4><ul>{rows}</ul>")
    if found.examinations:
        rows = "".join(_taken(taken) for taken in found.examinations)
        parts.append(f"<h4>Examinations</h4><ul>{rows}</ul>")
    return "".join(parts)


def _named(code: str) -> str:
    return f"{code}, {OBJECTIVES[code].text}"


def _next(found: Progress) -> str:
    if not found.next:
        return "<h4>What to practise next</h4><p>Nothing is due. Come back on the first day that stands below.</p>"
    rows = "".join(f"<li>{escape(_named(one.code))}: {escape(one.why)}</li>" for one in found.next[:HOW_MANY_NEXT])
    return f"<h4>What to practise next</h4><ol>{rows}</ol><p><code>Quiz()</code> practises these, with new things mixed in.</p>"


def _objectives(stands: Iterable[Stand], now: datetime) -> str:
    heads = ("Objective", "Weight", "Right", "Likely between", "Last seen", "Next due")
    head = "".join(f'<th scope="col" role="columnheader">{name}</th>' for name in heads)
    rows = []
    for stand in stands:
        low, high = stand.interval
        must = ' <strong class="lb-must">must be passed</strong>' if stand.objective.must_pass else ""
        due = "now" if stand.due is None or stand.due <= now else _day(stand.due)
        cells = (f"{stand.objective.weight}", f"{stand.right} of {stand.answers}, {100 * stand.share:.0f} %",
                 f"{100 * low:.0f} and {100 * high:.0f} %", _day(stand.last) if stand.last else "", due)
        told = "".join(f'<td role="cell" data-head="{name}">{cell}</td>' for name, cell in zip(heads[1:], cells))
        rows.append(f'<tr role="row"><th scope="row" role="rowheader">{escape(_named(stand.code))}{must}</th>{told}</tr>')
    return (f'<table role="table"><caption>How each objective stands. The first try of a question counts; “likely between” holds '
            f'the true share 95 times in 100.</caption><thead role="rowgroup"><tr role="row">{head}</tr></thead>'
            f'<tbody role="rowgroup">{"".join(rows)}</tbody></table>')


def _held(held: Held, there: frozenset[int]) -> str:
    said = held.misconception
    times = "once" if held.times == 1 else f"{held.times} times"
    lesson = f" Lesson {held.lesson}, “{escape(titles()[held.lesson])}”, shows it." if held.lesson in there else ""
    return (f"<li><strong>“{escape(said.says[:1].upper() + said.says[1:])}”</strong>, {times}, last on {_day(held.last)}. "
            f"{escape(said.hint)} What shows it: {escape(said.correct_with)}.{lesson}</li>")


def _taken(taken: Taken) -> str:
    head = f"{escape(taken.title)}, form {taken.seed}, {_day(taken.begun)}"
    if taken.result is None:
        return (f"<li>{head}: it still runs, {taken.answered} of {taken.asked} questions answered. <code>Sitting()</code> "
                "resumes it; its result comes when it is over.</li>")
    verdict, *more = taken.result.lines()[:-1]      # the last line says what it is worth; the page says so once
    return f"<li>{head}. {escape(' '.join((verdict, *more)))}</li>"


def _day(at: datetime) -> str:
    return at.astimezone().date().isoformat()
