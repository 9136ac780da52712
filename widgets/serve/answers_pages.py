"""The two pages of a show of answers: the learner's and the projector's. Everything shown is escaped; without JavaScript they
are plain forms, and with it they follow the show by themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

from .answers import MOST_BY_HAND, Round, Session
from .answers_questions import LETTERS, LONGEST_OPTION, LONGEST_TEXT, MOST, Question

_HERE = Path(__file__).resolve().parent / "answers_look"
CSS = (_HERE / "answers.css").read_text(encoding="utf-8")
JS = (_HERE / "answers.js").read_text(encoding="utf-8")
REFRESH_S = 5


@dataclass(frozen=True, slots=True)
class Way:
    """How learners get there. address: to type.  qr: a picture of it with the code, as a data address; '' where only this
    machine can reach it."""

    address: str
    qr: str = ""


def step(session: Session) -> str:
    """Changes whenever a learner's page has something new to show."""
    return f"{len(session.rounds)}-{session.state}"


def show_step(session: Session) -> str:
    """Changes whenever the projector's page has to be drawn anew; counts alone are filled in."""
    return step(session) + ("" if session.bars else "-hidden")


def _page(title: str, body: str, nonce: str, kind: str, at: str, refresh: bool = False) -> str:
    """One whole page; nothing in it is fetched from anywhere."""
    again = f'<noscript><meta http-equiv="refresh" content="{REFRESH_S}"></noscript>' if refresh else ""
    return (f'<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" '
            f'content="width=device-width, initial-scale=1"><title>{escape(title)}</title>{again}'
            f'<style nonce="{nonce}">{CSS}</style></head><body class="{kind}" data-step="{escape(at)}">{body}'
            f'<script nonce="{nonce}">{JS}</script></body></html>')


def plain_page(title: str, says: str, nonce: str) -> str:
    """A page that says one thing, with the way back."""
    return _page(title, f'<main><h1>{escape(title)}</h1><p>{escape(says)}</p><p><a href="/">Back to the question</a></p></main>',
                 nonce, "plain", "")


def _drawing(question: Question, with_key: bool, wall: bool = False) -> str:
    """The picture, the schedule beside it (folded on a phone), and the picture in words."""
    if question.drawing is None:
        return ""
    drawn = question.drawing
    picture = (drawn.wall_with_key if with_key else drawn.wall) if wall else drawn.phone_with_key if with_key else drawn.phone
    name = escape(question.words.partition("\n")[0])
    beside = "".join(f"<li>{escape(line)}</li>" for line in question.beside)
    if beside:
        beside = (f"<details><summary>What stands beside it: sensors, valves, distances</summary><ul>{beside}</ul></details>"
                  if not wall else f"<ul>{beside}</ul>")
    return (f'<figure><div class="scroll" tabindex="0" role="region" aria-label="The drawing">'
            f'<img src="{picture}" alt="{name}"></div>'
            f'<figcaption>{beside}<details><summary>The drawing in words</summary>'
            f'<p>{"<br>".join(map(escape, question.words.splitlines()))}</p></details></figcaption></figure>')


# -- the learner's page -----------------------------------------------------------------------------------

def code_page(says: str, nonce: str) -> str:
    """Where a device that has not joined types the code."""
    said = f'<p class="says" role="alert">{escape(says)}</p>' if says else ""
    return _page("Join the class", f'<main><h1>Join the class</h1>{said}<form method="post" action="/">'
                 '<label for="code">Code of six figures, from the big screen</label>'
                 '<input id="code" name="code" inputmode="numeric" autocomplete="off" maxlength="12" required>'
                 '<button>Join</button></form><p class="small">No name and no account: your answers are counted, and not kept '
                 'with anything that says who you are. A cookie holds this phone\'s place until the class is over.</p></main>',
                 nonce, "learner", "")


def learner_page(session: Session, device: str, nonce: str, says: str = "") -> str:
    """What a device that has joined sees now."""
    said = f'<p class="says" role="alert">{escape(says)}</p>' if says else ""
    if session.state == "waiting":
        return _page("Waiting", f'<main><h1>You are in</h1>{said}<p role="status">The first question comes soon.</p>{_look()}'
                     '</main>', nonce, "learner", step(session), refresh=True)
    now = session.now
    mine = now.answers.get(device)
    body = {"open": _to_answer, "closed": _closed, "key": _with_key}[now.state](session, now, device, mine)
    return _page(f"Question {len(session.rounds)}", f"<main>{said}{body}</main>", nonce, "learner", step(session),
                 refresh=now.state != "open" or mine is not None)


def _look() -> str:
    return '<p><a class="look" href="/">Look again</a> <span class="lost" role="status"></span></p>'


def _to_answer(session: Session, now: Round, device: str, mine: int | None) -> str:
    given = (f'<p class="mine" role="status">✓ Your answer is {LETTERS[mine]}. Tap another to change it.</p>'
             if mine is not None else '<p role="status">Tap your answer.</p>')
    buttons = []
    for n, option in enumerate(now.question.options):
        kind, tick = (' class="chosen"', ' <b class="tick">✓ yours</b>') if n == mine else ("", "")
        buttons.append(f'<button name="choice" value="{n}"{kind}><span class="letter">{LETTERS[n]}</span> '
                       f'<span>{escape(option.label)}{tick}</span></button>')
    return (f'<h1>{escape(now.question.text)}</h1>{_drawing(now.question, False)}'
            f'<form method="post" action="/" class="choices"><input type="hidden" name="token" value="{session.token(device)}">'
            f'<input type="hidden" name="question" value="{len(session.rounds)}">{"".join(buttons)}</form>{given}{_look()}')


def _closed(session: Session, now: Round, device: str, mine: int | None) -> str:
    yours = f"Your answer is {LETTERS[mine]}: {now.question.options[mine].label}" if mine is not None else "You gave no answer."
    return (f'<h1>{escape(now.question.text)}</h1><p role="status">The question is closed. {escape(yours)}</p>'
            f'{_drawing(now.question, False)}{_look()}')


def _with_key(session: Session, now: Round, device: str, mine: int | None) -> str:
    question, right = now.question, now.question.right
    assert right is not None
    lines = [f'<p class="right">✓ Right is {LETTERS[right]}: {escape(question.options[right].label)}</p>']
    if mine is None:
        lines.append("<p>You gave no answer.</p>")
    elif mine == right:
        lines.append("<p>That was your answer.</p>")
    else:
        chosen = question.options[mine]
        lines.append(f'<p class="wrong">✗ You said {LETTERS[mine]}: {escape(chosen.label)}</p>')
        lines += [f"<p>{escape(line)}</p>" for line in (chosen.because, chosen.mistake) if line]
    lines.append(f"<p>{escape(question.because)}</p>" if question.because else "")
    return f"<h1>{escape(question.text)}</h1><div role=status>{''.join(lines)}</div>{_drawing(question, True)}{_look()}"


# -- the projector's page ---------------------------------------------------------------------------------

def show_page(session: Session, way: Way, prepared: Sequence[str], objectives: Sequence[tuple[str, str]], nonce: str,
              says: str = "") -> str:
    """What the instructor and the projector see. prepared: the texts of the questions that wait."""
    said = f'<p class="says" role="alert">{escape(says)}</p>' if says else ""
    qr = f'<img class="qr" src="{way.qr}" alt="QR code of {escape(way.address)} with the code">' if way.qr else ""
    code = f'<span class="code">code <b>{session.code[:3]} {session.code[3:]}</b></span>'
    joined = f'<span class="joined"><b id="joined">{session.joined}</b> joined</span>'
    if session.rounds:
        head = (f'<header class="way">{qr}<p><span class="address">{escape(way.address)}</span> {code} {joined}</p>'
                f'{_buttons(session, prepared)}</header>')
        body = _round(session)
    else:
        head = ""
        body = (f'<div class="welcome">{qr}<div><h1>Answer on your own device</h1><p class="address">{escape(way.address)}</p>'
                f'<p>{code}</p><p>Join this network, open the address, type the code. No name, no account.</p><p>{joined}</p>'
                f'{_buttons(session, prepared)}</div></div>')
    return _page("Answers", f'{head}<main class="{session.state}">{said}{body}</main>{_controls(session, prepared, objectives)}',
                 nonce, "show", show_step(session))


def _round(session: Session) -> str:
    now, question = session.now, session.now.question
    keyed = now.state == "key"
    shown = session.bars or now.state != "open"
    counts = now.counts
    total = sum(counts)
    rows = []
    for n, option in enumerate(question.options):
        mark = ' <b class="tick">✓ right</b>' if keyed and n == question.right else ""
        why = "".join(f'<p class="why">{escape(line)}</p>' for line in (option.because, option.mistake) if line) \
            if keyed and n != question.right and counts[n] else ""
        bar = (f'<span class="bar"><progress max="{max(total, 1)}" value="{counts[n]}" aria-label="Answers of {LETTERS[n]}">'
               f'</progress> <span class="count">{_share(counts[n], total)}</span></span>') if shown else ""
        rows.append(f'<li class="{"key" if keyed and n == question.right else "option"}"><p class="label">'
                    f'<span class="letter">{LETTERS[n]}</span> <span>{escape(option.label)}{mark}</span></p>{bar}{why}</li>')
    state = {"open": "Open", "closed": "Closed", "key": "The key"}[now.state]
    because = f'<p class="because">{escape(question.because)}</p>' if keyed and question.because else ""
    drawing = _drawing(question, keyed, wall=True)
    return (f'<h1>{escape(question.text)}</h1><div class="{"two" if drawing else "one"}">{drawing}<div><ol class="bars">'
            f'{"".join(rows)}</ol><p class="state">{state} · <b id="total">{total}</b> answered</p>{because}</div></div>')


def _share(count: int, total: int) -> str:
    return f"{count} · {100 * count / total:.0f} %" if total else "0"


def _form(session: Session, inside: str, kind: str = "more") -> str:
    return (f'<form method="post" action="/show" class="{kind}" autocomplete="off"><input type="hidden" name="token" '
            f'value="{session.token(session.secret)}">{inside}</form>')


def _button(do: str, label: str) -> str:
    return f'<button name="do" value="{do}">{label}</button>'


def _buttons(session: Session, prepared: Sequence[str]) -> str:
    """What can be done now."""
    now = []
    if session.state == "open":
        now.append(_button("closed", "Close the question"))
        now.append(_button("hide", "Hide the bars") if session.bars else _button("bars", "Show the bars"))
    elif session.state == "closed":
        now.append(_button("open", "Open it again"))
        if session.now.question.right is not None:
            now.append(_button("key", "Show the key"))
    if prepared:
        now.append(_button("next", f"Next question ({len(prepared)} left)"))
    return _form(session, "".join(now), "now") if now else ""


def _controls(session: Session, prepared: Sequence[str], objectives: Sequence[tuple[str, str]]) -> str:
    """Other questions, hands in the room, and how much was held off."""
    parts = [f'<p class="small">Next: {escape(prepared[0])}</p>'] if prepared else []
    options = "".join(f'<option value="{escape(code)}">{escape(code)}: {escape(text)}</option>' for code, text in objectives)
    fields = "".join(f'<p><label for="o{n}">Answer {LETTERS[n - 1]}</label><input id="o{n}" name="option" '
                     f'maxlength="{LONGEST_OPTION}"></p>' for n in range(1, MOST + 1))
    keys = "".join(f'<option value="{n}">{LETTERS[n - 1]}</option>' for n in range(1, MOST + 1))
    bank = (f'<fieldset><legend>From the bank</legend><p><label for="objective">You can …</label><select id="objective" '
            f'name="objective">{options}</select></p><p><label for="seed">Number</label><input id="seed" name="seed" '
            f'type="number" min="0" max="999999999" value="{len(session.rounds) + 1}"></p>'
            f'{_button("bank", "Put this question")}</fieldset>')
    own = (f'<fieldset><legend>Typed</legend><p><label for="text">Question</label><textarea id="text" name="text" rows="2" '
           f'maxlength="{LONGEST_TEXT}"></textarea></p>{fields}<p><label for="right">Right is</label><select id="right" '
           f'name="right"><option value="0">no key</option>{keys}</select></p>{_button("typed", "Put this question")}</fieldset>')
    parts.append(f'<details><summary>Put another question</summary><div class="forms">{_form(session, bank)}'
                 f'{_form(session, own)}</div></details>')
    if session.rounds:
        counted = "".join(
            f'<p><label for="h{n}">{LETTERS[n]}</label><input id="h{n}" name="hand" type="number" min="0" max="{MOST_BY_HAND}" '
            f'value="{count}"></p>' for n, count in enumerate(session.now.by_hand))
        hands = (f'<fieldset><legend>Hands for each answer, added to what devices said</legend>{counted}'
                 f'{_button("hand", "Count them in")}</fieldset>')
        parts.append(f"<details><summary>Count hands in the room</summary>{_form(session, hands)}</details>")
    return (f'<footer class="controls" aria-label="Controls of the instructor">{"".join(parts)}<p class="small">'
            f'<span id="held">{session.held_off}</span> requests held off <span class="lost" role="status"></span></p></footer>')
