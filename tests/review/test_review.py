"""A mentor's reading: page one, timeline, remarks, what-if, other knowledge, two trails, a folder, documents."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import time
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from reasoner.review.calibration import calibration, wilson
from reasoner.review.counted import counted, first_idea
from reasoner.review.debrief import Said
from reasoner.review.differ import side_by_side, what_if, with_knowledge
from reasoner.review.feedback import feedback_markdown
from reasoner.review.html import html_page
from reasoner.review.moments import moments
from reasoner.review.page_one import PageOne, page_one
from reasoner.review.reading import Reading, verified
from reasoner.review.remarks import add, remarks_file, remarks_of, unread
from reasoner.review.then import knowledge_then, needed_then
from reasoner.review.timeline import timeline
from reasoner.review.worklist import worklist
from reasoner.trail import archive
from reasoner.trail.paths import archive_folder
from reasoner.views.render import plain_lines
from reasoner.views.reviewing import one_page, timeline_page, worklist_page
from tests.practice.players import START, game, scenario
from tests.review.long import long_trail

BANNED = re.compile(r"\b(safe|cleared|settled|ruled out|confirmed)\b", re.IGNORECASE)
GRADES = re.compile(r"\b(score of|grade:|graded [A-F0-9]|[0-9]+ ?/ ?100|[0-9]+ ?%|points out of)\b", re.IGNORECASE)


@pytest.fixture(scope="module")
def page(played: tuple[Path, Path, Path], knowledge: Knowledge) -> PageOne:
    return page_one(_reading(played[0], played[1], knowledge))


def _reading(home: Path, path: Path, knowledge: Knowledge) -> Reading:
    return Reading.of(path, home, verified(path, home), knowledge)


def _copy(played: tuple[Path, Path, Path], tmp_path: Path) -> tuple[Path, Path]:
    home = tmp_path / "copy"
    shutil.copytree(played[0], home)
    return home, home / "cases" / played[1].name


# ------------------------------------------------------------------------------------------------ page one, timeline


def test_page_one_fits_and_says_who_and_what_next(page: PageOne) -> None:
    lines = plain_lines(one_page(page, ()), 80)
    text = "\n".join(lines)
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    for said in ("oak-heron-17", "practice", "left", "KM (graduate)", "1 visit", "knowledge of that day", "--timeline"):
        assert said in text
    assert not BANNED.search(text)
    assert not GRADES.search(text)


def test_beliefs_before_and_after_stand_in_the_timeline(page: PageOne) -> None:
    lines = timeline(page.reading, page.moments)
    assert [line.seq for line in lines] == [r.seq for r in page.reading.recorded][: len(lines)]
    moved = [line.move for line in lines if line.move is not None]
    assert moved
    by_seq = {m.seq: m for m in page.moments}
    for move in moved:
        now = by_seq[move.seq]
        assert now.chance[move.hypothesis] == move.after
        assert by_seq[now.before].chance[move.hypothesis] == move.before
    assert "->" in "\n".join(plain_lines(timeline_page(lines, page)))


def test_first_idea_and_turning_points(page: PageOne) -> None:
    idea = first_idea(page.reading, page.moments)
    assert idea is not None
    assert idea.kept
    assert idea.against
    assert idea.lead_chance >= 2 * idea.first_chance
    assert all(m.seq in {x.seq for x in page.moments} for m in page.turning)


def test_a_withdrawn_danger_answer_heads_the_page(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("bus_traveller", knowledge))
    g.type("ask who", "ask history", "ask calf_swollen")
    g.type("withdraw calf_swollen because the stocking was only tight", "close")
    told = page_one(g.reading)
    assert told.of("withdrawn")
    text = " ".join(" ".join(plain_lines(one_page(told, ()), 80)).split())
    assert "PHONE NOW" in text
    assert "the stocking was only tight" in text


def test_real_danger_is_a_phone_call(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("ferry_deckhand", knowledge))
    g.type("ask who", "ask history", "ask cannot_take_four_steps, lateral_malleolus_tender", "close")
    told = page_one(g.reading)
    assert told.of("danger")
    real = replace(told.reading.state, kind="real")
    from reasoner.views.reviewing import danger_banner

    assert plain_lines(danger_banner(told.faults, real.kind))[0].startswith("PHONE NOW")


def test_much_provoking_in_an_irritable_joint_is_counted(knowledge: Knowledge, tmp_path: Path) -> None:
    from tests.practice.players import irritated

    g = game(knowledge, tmp_path, scenario("beekeeper", knowledge))
    irritated(g, 8)
    assert [f.code for f in counted(g.reading, ()) if f.code == "over_tested"]


# ------------------------------------------------------------------------------------------------ not as recorded


def test_a_changed_line_is_refused_with_its_number(played: tuple[Path, Path, Path], tmp_path: Path) -> None:
    home, path = _copy(played, tmp_path)
    lines = path.read_bytes().splitlines(keepends=True)
    assert b'"KM"' in lines[4]
    lines[4] = lines[4].replace(b'"KM"', b'"KN"', 1)
    path.write_bytes(b"".join(lines))
    with pytest.raises(InputRefused) as no:
        verified(path, home)
    assert any(p.line in (5, 6) for p in no.value.problems)


def test_a_shortened_trail_is_refused_by_its_missing_end(played: tuple[Path, Path, Path], tmp_path: Path) -> None:
    home, path = _copy(played, tmp_path)
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-3]))
    with pytest.raises(InputRefused) as no:
        verified(path, home)
    assert any(p.code == "T-END" for p in no.value.problems), [str(p) for p in no.value.problems]


# ------------------------------------------------------------------------------------------------ remarks


def test_remarks_quote_the_line_and_never_touch_the_trail(played: tuple[Path, Path, Path], tmp_path: Path) -> None:
    home, path = _copy(played, tmp_path)
    entries = verified(path, home)
    before = path.read_bytes()
    made = add(
        path, entries, kind="remark", on=9, text="what would speak against it?", by="ME", role="mentor", at=START
    )
    assert made.hash == entries[8].hash
    assert unread(remarks_of(path, entries), entries)
    add(path, entries, kind="read", on=len(entries), text="", by="ME", role="mentor", at=START)
    assert not unread(remarks_of(path, entries), entries)
    assert [r.on for r in remarks_of(path, entries)] == [9, len(entries)]
    assert path.read_bytes() == before
    assert verified(path, home)


def test_a_changed_remark_is_refused_with_its_line(played: tuple[Path, Path, Path], tmp_path: Path) -> None:
    home, path = _copy(played, tmp_path)
    entries = verified(path, home)
    for text in ("first", "second"):
        add(path, entries, kind="remark", on=9, text=text, by="ME", role="mentor", at=START)
    file = remarks_file(path)
    file.write_bytes(file.read_bytes().replace(b"second", b"other!"))
    with pytest.raises(InputRefused) as no:
        remarks_of(path, entries)
    assert (no.value.problems[0].code, no.value.problems[0].line) == ("R-CHAIN", 2)


def test_a_remark_on_another_trail_is_refused(played: tuple[Path, Path, Path], tmp_path: Path) -> None:
    home, path = _copy(played, tmp_path)
    entries = verified(path, home)
    add(path, entries, kind="remark", on=9, text="words", by="ME", role="mentor", at=START)
    other = home / "cases" / played[2].name
    shutil.copy(remarks_file(path), remarks_file(other))
    with pytest.raises(InputRefused) as no:
        remarks_of(other, verified(other, home))
    assert no.value.problems[0].code == "R-QUOTE"


# ------------------------------------------------------------------------------------------------ what if


def test_what_if_shows_the_difference(page: PageOne, played: tuple[Path, Path, Path], knowledge: Knowledge) -> None:
    careful = _reading(played[0], played[2], knowledge)
    seq = next(r.seq for r in careful.recorded if getattr(r.event, "bundle", "") == "heat")
    assert what_if(careful, f"{seq} absent") == ()
    found = what_if(careful, f"{seq} not-asked")
    assert [d for d in found if d.kind == "screen" and d.after == "open"]
    assert [d for d in found if d.kind == "option"]
    for bad in ("x", "3 perhaps", "1 absent", "9999 absent"):
        with pytest.raises(InputRefused):
            what_if(careful, bad)


def test_old_trail_under_changed_knowledge(played: tuple[Path, Path, Path], knowledge: Knowledge) -> None:
    careful = _reading(played[0], played[2], knowledge)
    assert with_knowledge(careful, knowledge) == ()
    lead = knowledge.hypotheses["talus_back_glide"]
    rare = {setting: replace(figure, value=0.001, word=None) for setting, figure in lead.base_rate.items()}
    changed = {**knowledge.hypotheses, lead.id: replace(lead, base_rate=rare)}
    other = replace(knowledge, hypotheses=changed, digest="0" * 64)
    found = [d for d in with_knowledge(careful, other) if d.kind == "chance" and d.name == lead.name]
    assert found
    assert float(found[0].after) < float(found[0].before)


def test_the_knowledge_of_that_day_or_an_honest_no(
    played: tuple[Path, Path, Path], tmp_path: Path, knowledge: Knowledge
) -> None:
    home, path = _copy(played, tmp_path)
    digest = verified(path, home)[-1].knowledge
    archive.keep(home, digest, knowledge.files)
    kept = knowledge_then(home, digest, "ankle", "2026-03-02")
    assert kept is not None
    assert kept.digest == digest
    shutil.rmtree(archive_folder(home))
    assert knowledge_then(home, digest, "ankle", "2026-03-02") is None
    with pytest.raises(InputRefused) as no:
        needed_then(home, digest, "ankle", "2026-03-02")
    assert "not kept here" in str(no.value)


def test_side_by_side_needs_the_same_patient(
    played: tuple[Path, Path, Path], page: PageOne, knowledge: Knowledge, tmp_path: Path
) -> None:
    other = page_one(_reading(played[0], played[2], knowledge))
    pairs = {p.what: p for p in side_by_side(page, other)}
    assert (pairs["by"].first, pairs["by"].second) == ("KM (graduate)", "ME (graduate)")
    assert pairs["given against a gate"].second == "none"
    g = game(knowledge, tmp_path, scenario("night_nurse", knowledge))
    g.type("ask who", "close")
    with pytest.raises(InputRefused):
        side_by_side(page, page_one(g.reading))


def test_the_worklist_puts_what_is_broken_or_pressing_first(
    played: tuple[Path, Path, Path], tmp_path: Path, knowledge: Knowledge
) -> None:
    home, path = _copy(played, tmp_path)
    broken = home / "cases" / "yew-lark-9.jsonl"
    broken.write_bytes(path.read_bytes()[:200] + b"\n")
    paths = sorted(p for p in (home / "cases").iterdir() if p.suffix == ".jsonl")
    work = worklist(paths, lambda p: _reading(home, p, knowledge))
    assert work[0].refused
    assert len(work[1].faults) > len(work[2].faults)
    assert "NOT as recorded" in "\n".join(plain_lines(worklist_page(work)))


# ------------------------------------------------------------------------------------------------ documents


def test_feedback_has_its_five_parts_and_no_grade(page: PageOne) -> None:
    text = feedback_markdown(page, "ME", "ask the stop-now questions first, shown on the next three patients")
    heads = [line for line in text.splitlines() if line.startswith("## ")]
    assert heads == ["## Your own view first", "## One thing that was done well", "## One priority", "## One question",
                     "## What we agreed"]  # fmt: skip
    assert re.search(r"Line \d+: you ", text)
    assert "stop-now questions first" in text
    assert not GRADES.search(text)
    assert not BANNED.search(text)


class _Outline(HTMLParser):
    """Tags in order, attributes, and text of an HTML page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.said: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.said.append(data)


def test_the_page_stands_alone_and_is_escaped(page: PageOne, played: tuple[Path, Path, Path]) -> None:
    entries = page.reading.entries
    hostile = "<script>alert(1)</script> \x1b[31m"
    from reasoner.review.remarks import Remark

    remark = Remark(1, "2026-03-02", "ME", "mentor", "remark", 9, entries[8].hash, "", hostile)
    text = html_page(page, (remark,))
    outline = _Outline()
    outline.feed(text)
    names = [tag for tag, _ in outline.tags]
    assert "script" not in names
    assert "svg" in names
    assert "\x1b" not in text
    assert not [a for _, a in outline.tags if (a.get("src") or a.get("href") or "#").lower().startswith(("http", "//"))]
    assert not re.search(r"https?://", text)
    assert ("html", {"lang": "en"}) in outline.tags
    assert names.count("h1") == 1
    assert all("scope" in a for tag, a in outline.tags if tag == "th")
    assert not BANNED.search(" ".join(outline.said))


def _luminance(colour: str) -> float:
    """Relative luminance (W3C, WCAG 2.1): linear RGB weighted .2126, .7152, .0722."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_colour_of_a_letter_stands_out(page: PageOne) -> None:
    """4.5 to 1 against white (WCAG 2.1, 1.4.3); a checker cannot tell inside a picture. Black on white is 21."""
    assert 1.05 / (_luminance("#000000") + 0.05) == pytest.approx(21)
    colours = set(re.findall(r'<text[^>]*fill="(#[0-9a-f]{6})"', html_page(page)))
    assert len(colours) >= 3
    assert all(1.05 / (_luminance(c) + 0.05) >= 4.5 for c in colours)


def test_the_table_of_numbers_leaves_out_what_did_not_change(page: PageOne) -> None:
    text = html_page(page)
    table = text[text.index("where one of them changed") : text.index("</table>", text.index("where one of them"))]
    rows = re.findall(r"line (\d+)</th>(.*?)</tr>", table)
    assert int(rows[0][0]) == page.moments[0].seq
    assert all(before[1] != after[1] for before, after in pairwise(rows))


def test_calibration_by_word_with_intervals() -> None:
    """Wilson 1927 by hand: 8 of 10 at z 1.96 gives (11.8416 +- 2.62...)/13.8416... see the doctest; 0 of 0 is open."""
    cases = [[Said("a", "very sure", right, 5)] for right in (True, True, False)] + [
        [Said("b", "not sure", False, 6)],
        [],
    ]
    rows = calibration(cases)
    assert [(r.word, r.right, r.judged) for r in rows] == [("very sure", 2, 3), ("not sure", 0, 1)]
    assert rows[0].low < 2 / 3 < rows[0].high
    assert wilson(0, 0) == (0.0, 1.0)
    # 5 of 10: centre 1/2 whatever z, half width 1.96/(10 + 3.8416) sqrt(2.5 + .9604) = .26341
    low, high = wilson(5, 10)
    assert low == pytest.approx(0.5 - 0.26341, abs=1e-4)
    assert high == pytest.approx(0.5 + 0.26341, abs=1e-4)


def test_five_thousand_lines_are_reviewed_in_time_that_stays_near_their_bytes(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    """Page one of 5,000 lines against parsing and hashing the same bytes with the standard library, CPU time.

    About 35 to 1 when written; the bar leaves room for a busy machine, not for work that grows with lines squared.
    """
    path, home = long_trail(knowledge, tmp_path, 5000), tmp_path / "state"

    def bare() -> None:
        for raw in path.read_bytes().splitlines():
            json.loads(raw)
            hashlib.sha256(raw).hexdigest()

    def whole() -> PageOne:
        return page_one(Reading.of(path, home, verified(path, home), knowledge))

    def timed(call: Callable[[], object]) -> float:
        start = time.process_time()
        call()
        return time.process_time() - start

    page = whole()
    assert len(page.reading.recorded) >= 5000
    assert page.sampled
    assert timed(whole) / min(timed(bare) for _ in range(3)) < 100


def test_moments_are_spread_over_a_long_trail(played: tuple[Path, Path, Path], knowledge: Knowledge) -> None:
    reading = _reading(played[0], played[2], knowledge)
    found = moments(reading)
    assert found[-1].seq == max(m.seq for m in found)
    assert [m.before for m in found][1:] == [m.seq for m in found][:-1]
