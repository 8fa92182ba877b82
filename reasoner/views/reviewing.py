"""A mentor's pages: page one in 24 lines, the timeline, differences, two trails side by side, a folder as work."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from reasoner.consult.words import number
from reasoner.graph.knowledge import Knowledge
from reasoner.review.counted import Fault
from reasoner.review.differ import Difference, Pair
from reasoner.review.moments import Move
from reasoner.review.page_one import PageOne
from reasoner.review.remarks import Remark, unread
from reasoner.review.timeline import Line
from reasoner.review.worklist import Work
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows
from reasoner.views.render import plain_lines

__all__ = [
    "PAGE_LINES",
    "danger_banner",
    "differences_page",
    "one_page",
    "pairs_page",
    "timeline_page",
    "worklist_page",
]

PAGE_LINES = 24
_LABEL = 21
_ROOM, _LINE = 190, 54  # letters a row may take at most, and on one line
_NEXT = (
    "next: --timeline  --at N  --why N  --what-if 'N absent'  --feedback FILE  --html FILE  "
    "--remark N 'words' --by CODE  --read --by CODE"
)
_DANGERS = ("danger", "withdrawn")
_NO_TURN = "none: no answer moved a belief much"


def danger_banner(faults: Sequence[Fault], kind: str) -> Page:
    """A possible missed danger is no remark: the telephone, now."""
    dangers = [f for f in faults if f.code in _DANGERS]
    if not dangers:
        return ()
    first = dangers[0]
    more = f" (and {len(dangers) - 1} more)" if len(dangers) > 1 else ""
    if kind == "real":
        head = "PHONE NOW, do not leave a remark: "
    else:
        head = f"{kind.upper()}; with a real patient: PHONE NOW. "
    return (
        Para(textwrap.shorten(f"{head}line {first.seq}, {first.what}{more}", 150, placeholder=" ..."), 0, "danger"),
    )


def one_page(page: PageOne, remarks: Sequence[Remark]) -> Page:
    """Page one: at most 24 lines at 80 columns, whatever is in it. The longest rows give way first."""
    rows = _rows(page, remarks)
    rooms = [min(len(text), _ROOM) for _, text in rows]
    made = _page(page, _shortened(rows, rooms))
    while len(plain_lines(made)) > PAGE_LINES and max(rooms) > _LINE:
        longest = max(range(len(rooms)), key=lambda n: (-(-rooms[n] // _LINE), n))
        rooms[longest] = (-(-rooms[longest] // _LINE) - 1) * _LINE
        made = _page(page, _shortened(rows, rooms))
    return made


def _shortened(rows: Sequence[tuple[str, str]], rooms: Sequence[int]) -> tuple[tuple[str, str], ...]:
    cut = zip(rows, rooms, strict=True)
    return tuple((label, textwrap.shorten(text, room, placeholder=" ...")) for (label, text), room in cut)


def _page(page: PageOne, rows: tuple[tuple[str, str], ...]) -> Page:
    reading, state = page.reading, page.reading.state
    then = "of that day" if reading.then else "NOT of that day"
    visits = f"{len(state.visits)} visit{'s' if len(state.visits) != 1 else ''}"
    side = state.context.side or "side not known"
    who = f"{side}, {page.clinician} ({page.role}), {visits}, {page.minutes} min at the desk"
    end = "" if reading.anchored else "; a copy: a missing end would not be seen"
    over = state.kind == "practice" and reading.over
    blocks: list[Block] = [
        Heading(f"Review  {reading.case}  {state.kind}", f"{len(reading.entries)} lines, knowledge {then}"),
        Para(f"{who}{end}"),
        *danger_banner(page.faults, state.kind),
        Rows(rows, first=_LABEL),
        Gap(),
        Para(f"{_NEXT}{'  --debrief' if over else ''}", tone="quiet"),
    ]  # fmt: skip
    return tuple(blocks)


def _rows(page: PageOne, remarks: Sequence[Remark]) -> list[tuple[str, str]]:
    reading = page.reading
    rows = [(label, _told(page, codes)) for label, codes in (
        ("overrides, consent", ("override", "no_agreement")), ("danger withdrawn", ("withdrawn",)),
        ("stop-now questions", ("skipped", "late")),
        ("within-error claims", ("within_claim",)), ("open loops", ("open_loop",)),
        ("haste, over-testing", ("stopped_early", "over_tested")),
    )]  # fmt: skip
    rows = [(label, _loops(page, text) if label == "open loops" else text) for label, text in rows]
    rows.append(("first idea", _idea(page)))
    rows.append(("turning points", "; ".join(_move(m, reading.knowledge) for m in page.turning) or _NO_TURN))
    asked = ", ".join(q.id.replace("_", " ") for q in page.not_asked) or "nothing that would have told much"
    rows.append(("most telling, unasked", asked))
    seen = "unread at this end" if unread(remarks, reading.entries) else "read"
    rows.append(("remarks", f"{sum(r.kind == 'remark' for r in remarks)}; {seen}"))
    return rows


def _told(page: PageOne, codes: Sequence[str]) -> str:
    faults = [f for code in codes for f in page.of(code)]
    if not faults:
        return "none counted"
    parts = []
    for code in dict.fromkeys(f.code for f in faults):
        of_code = [f for f in faults if f.code == code]
        count = f"{len(of_code)}: " if len(of_code) > 1 else ""
        parts.append(f"{count}line {of_code[0].seq}, {of_code[0].what}")
    return "; ".join(parts)


def _idea(page: PageOne) -> str:
    idea = page.idea
    if idea is None:
        return "no own judgement was written"
    names = page.reading.knowledge.hypotheses
    begun, lead = f"line {idea.seq}, {names[idea.first].name}", names[idea.lead].name
    if idea.against:
        return f"{begun}: kept AGAINST the answers; better fits: {lead}"
    kept = "kept to the end" if idea.kept else f"then {names[idea.last].name}"
    return f"{begun}: {kept}; " + ("it leads at the end" if idea.lead == idea.last else f"lead at the end: {lead}")


def _loops(page: PageOne, told: str) -> str:
    return f"{page.loops}; {told}" if page.of("open_loop") else f"{told} ({page.loops})"


def _move(move: Move, knowledge: Knowledge) -> str:
    return f"line {move.seq} {knowledge.hypotheses[move.hypothesis].name} {_chance(move.before)}->{_chance(move.after)}"


def _chance(value: float) -> str:
    return f"{value:.2f}".removeprefix("0")


# ------------------------------------------------------------------------------------------------ further pages


def timeline_page(lines: Sequence[Line], page: PageOne) -> Page:
    """Line by line; under an answer what it moved, under a line its remarks."""
    blocks: list[Block] = [Heading("Timeline", "belief before -> after, of what moved most")]
    if page.sampled:
        blocks.append(Para(f"beliefs were worked out at {len(page.moments)} moments, spread over the trail; a move may "
                           "come from several answers", tone="quiet"))  # fmt: skip
    for line in lines:
        blocks.append(Rows(((f"{line.seq}", f"{line.at:%d %b %H:%M} {line.by}", line.text),), indent=0, first=5))
        if line.move is not None:
            name = page.reading.knowledge.hypotheses[line.move.hypothesis].name
            said = f"{name}: {_chance(line.move.before)} -> {_chance(line.move.after)}"
            blocks.append(Para(said, indent=8, tone="strong"))
        blocks += [Para(f"remark by {r.by}: {r.text}", indent=8, tone="caution") for r in line.remarks if r.text]
    return tuple(blocks)


def differences_page(title: str, found: Sequence[Difference]) -> Page:
    """What is otherwise; saying so where nothing is."""
    if not found:
        return (Heading(title), Para("no screen, lead, chance or technique would be different"))
    rows = tuple((f"{d.kind}: {d.name}", f"{d.before} -> {d.after}") for d in found)
    return (Heading(title, "before -> after"), Rows(rows, first=48))


def pairs_page(pairs: Sequence[Pair]) -> Page:
    """Two trails side by side."""
    return (
        Heading("Side by side", "same simulated patient"),
        Rows(tuple((p.what, p.first, p.second) for p in pairs), first=24),
    )


def worklist_page(work: Sequence[Work]) -> Page:
    """Most pressing first."""
    blocks: list[Block] = [Heading("To read", f"{sum(w.unread for w in work)} of {len(work)} unread")]
    for one in work:
        if one.refused:
            blocks.append(Para(f"{one.case}: NOT as recorded: {one.refused[0]}", tone="danger"))
            continue
        read = "unread" if one.unread else f"read by {', '.join(one.read_by)}"
        visits = f"{number(one.visits)} visit{'s' if one.visits != 1 else ''}"
        about = f"{one.kind}, {one.clinician}, {visits}, {read}{f', remarks: {one.remarks}' if one.remarks else ''}"
        kinds = ", ".join(dict.fromkeys(f.title for f in one.faults)) or "nothing counted"
        blocks.append(Rows(((one.case, about),), first=_LABEL))
        blocks += danger_banner(one.faults, one.kind)
        blocks.append(Para(kinds, indent=4))
    return tuple(blocks) if work else (*blocks, Para("no trails here"))
