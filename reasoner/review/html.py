"""A review as one self-contained page: no network, no script, printable, for the keyboard and the screen reader.

The picture of belief over time has the same numbers beside it as a table; lines differ by dash and by letter, not by
colour alone. Everything that was typed is escaped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from reasoner.review.chart import belief_chart, shown
from reasoner.review.counted import CODES, Fault
from reasoner.review.moments import Moment
from reasoner.review.page_one import PageOne
from reasoner.review.remarks import Remark
from reasoner.review.timeline import Line, timeline
from reasoner.visible import markup

__all__ = ["MOST_LINES", "html_page"]

MOST_LINES = 400  # of the timeline; the rest is in the trail
_DANGERS = ("danger", "withdrawn")
_STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0; font: 1rem/1.5 system-ui, sans-serif; color: #1b1b1b; background: #fff; }
main { max-width: 60rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.5rem; line-height: 1.25; margin: .5rem 0; }
h2 { font-size: 1.2rem; margin: 2rem 0 .5rem; border-bottom: 2px solid #1b1b1b; }
a { color: #0b4a8f; } a:focus-visible, [tabindex]:focus-visible { outline: 3px solid #0b4a8f; outline-offset: 2px; }
.skip { position: absolute; left: -99rem; } .skip:focus { position: static; }
.stop { border: 3px solid #8f0b0b; background: #fff1f0; color: #6b0000; padding: .75rem 1rem; font-weight: 700; }
.mark { border-left: 4px solid #555; padding: .25rem .75rem; background: #f4f4f4; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; }
caption { text-align: left; font-weight: 600; padding: .25rem 0; }
th, td { text-align: left; vertical-align: top; padding: .3rem .6rem .3rem 0; border-bottom: 1px solid #bbb; }
th[scope=row] { font-weight: 600; white-space: nowrap; }
.short { display: grid; grid-template-columns: 14rem 1fr; gap: .3rem 1rem; } .short dt { font-weight: 600; }
.short dd { margin: 0; } time { white-space: nowrap; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; }
figure { margin: 0; } figure svg { width: 100%; height: auto; min-width: 40rem; }
.moved { font-weight: 600; display: block; }
footer { margin-top: 2rem; font-size: .9rem; color: #444; }
@media (max-width: 40rem) {
  .short { grid-template-columns: 1fr; } .short dd { padding-bottom: .5rem; }
  main { padding: .75rem; }
}
@media print {
  body { font-size: 10pt; } main { max-width: none; padding: 0; } .skip, nav { display: none; }
  h2 { break-after: avoid; } tr, figure { break-inside: avoid; } .wide { overflow: visible; }
  figure svg { min-width: 0; }
}
"""


def html_page(page: PageOne, remarks: Sequence[Remark] = ()) -> str:
    """The whole document as text."""
    reading = page.reading
    title = f"Review {reading.case}"
    kind = {"real": "", "demo": "Demo, an invented patient. ", "practice": "Practice, an invented patient. "}
    body = "\n".join(
        (
            f"<h1>{markup(title)}</h1>",
            f"<p>{markup(kind[reading.state.kind])}{markup(_who(page))}</p>",
            _banner(page.faults, reading.state.kind),
            '<nav aria-label="On this page"><ul><li><a href="#counted">What was counted</a></li>'
            '<li><a href="#belief">Belief over time</a></li><li><a href="#lines">Line by line</a></li></ul></nav>',
            '<section id="counted"><h2>What was counted</h2>',
            _counted(page),
            _faults(page.faults),
            "</section>",
            '<section id="belief"><h2>Belief over time</h2>',
            _belief(page),
            "</section>",
            '<section id="lines"><h2>Line by line</h2>',
            _timeline(page, remarks),
            "</section>",
        )
    )
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<title>{markup(title)}</title>\n'
        f"<style>{_STYLE}</style>\n</head>\n<body>\n"
        f'<a class="skip" href="#main">To the review</a>\n<main id="main">\n{body}\n'
        f"<footer><p>{markup(_foot(page))}</p></footer>\n</main>\n</body>\n</html>\n"
    )


def _who(page: PageOne) -> str:
    state = page.reading.state
    side = state.context.side or "side not known"
    return (
        f"{side}, by {page.clinician} ({page.role}), visits: {len(state.visits)}, {page.minutes} minutes at the desk."
    )


def _foot(page: PageOne) -> str:
    reading = page.reading
    head = reading.entries[-1].hash.removeprefix("sha256:")[:12]
    then = "as it was that day" if reading.then else "not that of the day: it is not kept here"
    return (
        f"Trail of {len(reading.entries)} lines, last {head}. Knowledge {reading.knowledge.digest[:12]}, {then}. "
        "Supports judgement and replaces none; local protocol and the surgeon's orders come first. Nobody is graded."
    )


def _banner(faults: Sequence[Fault], kind: str) -> str:
    dangers = [f for f in faults if f.code in _DANGERS]
    if not dangers:
        return ""
    head = "Phone now, do not leave a remark." if kind == "real" else f"{kind}; with a real patient: phone now."
    items = "".join(f"<li>line {f.seq}: {markup(f.what)}</li>" for f in dangers)
    label = 'class="stop" role="note" aria-label="Possible missed danger"'
    return f"<div {label}><p>{markup(head)}</p><ul>{items}</ul></div>"


def _counted(page: PageOne) -> str:
    names = page.reading.knowledge.hypotheses
    idea = page.idea
    own = "none written"
    if idea is not None:
        own = f"line {idea.seq}: {names[idea.first].name}, " + (
            "kept to the end" if idea.kept else f"then {names[idea.last].name}"
        )
        own += f"; lead at the end: {names[idea.lead].name}"
    turning = "; ".join(
        f"line {m.seq}: {names[m.hypothesis].name} {m.before:.2f} to {m.after:.2f}" for m in page.turning
    )
    rows = [
        ("Techniques", page.loops),
        ("First idea", own),
        ("Turning points", turning or "none"),
        ("Not asked, would have told most", " ".join(q.ask for q in page.not_asked) or "nothing much"),
    ]
    return f'<dl class="short">{"".join(f"<dt>{markup(a)}</dt><dd>{markup(b)}</dd>" for a, b in rows)}</dl>'


def _faults(faults: Sequence[Fault]) -> str:
    if not faults:
        return "<p>None of these was counted: " + markup("; ".join(CODES.values())) + ".</p>"
    items = "".join(
        f"<li><p><strong>{markup(f.title)}</strong>, line {f.seq}: {markup(f.what)}</p>"
        f"<p>Could have happened: {markup(f.could)}. Now: {markup(f.now)}</p></li>"
        for f in faults
    )
    return f"<ol>{items}</ol>"


def _belief(page: PageOne) -> str:
    if len(page.moments) < 2:
        return "<p>Too few answers to draw.</p>"
    names = page.reading.knowledge.hypotheses
    picked = shown(page.moments, page.reading.knowledge)
    head = "".join(f'<th scope="col" class="number">{letter}: {markup(names[h].name)}</th>' for letter, h in picked)
    rows = "".join(
        f'<tr><th scope="row">line {m.seq}</th>'
        + "".join(f'<td class="number">{m.chance[h]:.2f}</td>' for _, h in picked)
        + "</tr>"
        for m in _changing(page.moments, [h for _, h in picked])
    )
    said = "<p>Worked out at some moments only, spread over the trail.</p>" if page.sampled else ""
    return (
        f'{said}<figure class="wide" tabindex="0" aria-label="Picture of belief over time, can be scrolled">'
        f"{belief_chart(page.moments, page.reading.knowledge)}</figure>"
        f'<div class="wide" tabindex="0" role="region" aria-label="Belief over time as a table"><table>'
        "<caption>The same as numbers, where one of them changed</caption>"
        f'<thead><tr><th scope="col">After</th>{head}</tr>'
        f"</thead><tbody>{rows}</tbody></table></div>"
    )


def _changing(found: Sequence[Moment], picked: Sequence[str]) -> Iterator[Moment]:
    """The first, and each where a number that is shown is another than before."""
    before: list[str] = []
    for moment in found:
        shown_now = [f"{moment.chance[h]:.2f}" for h in picked]
        if shown_now != before:
            yield moment
        before = shown_now


def _timeline(page: PageOne, remarks: Sequence[Remark]) -> str:
    lines = timeline(page.reading, page.moments, remarks, 1, MOST_LINES)
    names = page.reading.knowledge.hypotheses
    rows = "".join(_rows(lines, {h: names[h].name for h in names}))
    total = len(page.reading.entries)
    more = f"<p>The first {MOST_LINES} of {total} lines.</p>" if total > MOST_LINES else ""
    return (
        f'{more}<div class="wide" tabindex="0" role="region" aria-label="Line by line"><table>'
        '<caption>What was recorded, and what it moved most</caption><thead><tr><th scope="col">Line</th>'
        f'<th scope="col">When</th><th scope="col">Recorded</th></tr></thead><tbody>{rows}</tbody></table></div>'
    )


def _rows(lines: Iterable[Line], names: dict[str, str]) -> Iterator[str]:
    for line in lines:
        moved = ""
        if line.move is not None:
            name = names[line.move.hypothesis]
            moved = f'<span class="moved">{markup(name)}: {line.move.before:.2f} to {line.move.after:.2f}</span>'
        beside = "".join(
            f'<p class="mark">Remark by {markup(r.by)}: {markup(r.text)}</p>' for r in line.remarks if r.text
        )
        when = f'<time datetime="{line.at.isoformat()}">{line.at:%d %b %H:%M}</time>'
        yield f'<tr><th scope="row">{line.seq}</th><td>{when}</td><td>{markup(line.text)}{moved}{beside}</td></tr>'
