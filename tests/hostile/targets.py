"""Everything that reads what somebody else may have written, as functions of bytes: read, or refused in clear lines.

A target returns or raises InputRefused; anything else it does is a fault. `edited` makes hostile bytes of good ones.
"""

from __future__ import annotations

import json
import re
import signal
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType
from typing import NoReturn

from reasoner.advice.advise import advise
from reasoner.case.state import CaseState, Context, Visit
from reasoner.consult.sitting import recorded_of, state_of_trail
from reasoner.consult.snapshot import read_snapshot, state_of
from reasoner.geometry.landmarks import CODE, read_landmarks
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import load
from reasoner.graph.overlay.entries import ClinicCopy
from reasoner.graph.scenario import read_casemix, read_scenario
from reasoner.graph.source import parse
from reasoner.measures.readings import read_readings, text_of
from reasoner.measures.reliability import reliability
from reasoner.problems import InputRefused, Problem
from reasoner.prompt.lines import lines_of
from reasoner.prompt.parsed import Refused, Unclear
from reasoner.prompt.shorthand import parse as parse_line
from reasoner.reports.dossier import Dossier
from reasoner.reports.fhir.bundle import bundle
from reasoner.reports.fhir.read import snapshot_of_bundle
from reasoner.reports.letterhead import Letterhead, read_letterhead
from reasoner.review.html import html_page
from reasoner.review.page_one import page_one
from reasoner.review.reading import Reading
from reasoner.review.remarks import add, remarks_file, remarks_of
from reasoner.trail.clinic import in_use
from reasoner.trail.line import BadLine, decode, parse_json, sha256
from reasoner.trail.read import read, scan
from reasoner.trail.verify import verify
from reasoner.upkeep.pooling import pool
from reasoner.upkeep.studies import read_studies
from reasoner.visible import visible
from tests.tiny_pack import TINY, write_pack
from tests.visit import TREATED, begin

__all__ = ["TOKENS", "WORDS", "Bench", "TooSlow", "check_refusal", "edited", "reworded", "within"]

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
Edit = tuple[int, bytes, int]  # at which byte, what is put there, how many bytes it takes the place of

TOKENS: tuple[bytes, ...] = (
    b"", b"\x00", b"\xff", b"\xed\xa0\x80", b"\x1b[2J", "\u202e".encode(), b"\n", b"\r", b"\t", b" ", b"  ", b"-",
    b"- ", b": ", b"{", b"}", b"[", b"]", b"[" * 50, b"{a: " * 45, b'"', b"'", b'"\\e[31m"', b"&a ", b"*a", b"<<",
    b"---\n", b"!!python/name:os.x ", b"# day 3\n", b"1e400", b"-1e400", b"9" * 30, b"9" * 5000, b".inf", b"NaN",
    b"0x1F", b"1_0", b"3:30", b"yes", b"null", b"true", b"~", b"../../etc/passwd", b"/dev/zero", b"{{ doc }}",
    b"<script>", b"=1+1", b"%s", b",", b";", b"=", b"0", b"-0.0", b"-1", b"1", b"x" * 3000, b"\xef\xbb\xbf",
    b'{"all": []}', b"[]", b"{}", b"id", b"unknown",
)  # fmt: skip
# in the place of a whole word or number: what passes as one and means something else
WORDS: tuple[bytes, ...] = (
    b"0", b"1", b"-1", b"2.5", b"0.00000000000000000001", b"999999999999999", b"-999999999999999", b"left",
    b"right", b"none", b"both", b"unknown", b"present", b"knee_to_wall", b"fever", b"short_calf", b"back_glide",
    b"calf_stretch", b"nobody", b"not_stated", b"[]", b"{}", b'""', b"null", b"true", b"[1, 2]", b'"word"',
    b"2026-03-01", b"name", b"value", b"basis",
)  # fmt: skip
_WORD = re.compile(rb"[A-Za-z_]+|-?\d+(?:\.\d+)?")


def reworded(data: bytes, edits: Sequence[tuple[int, bytes]]) -> bytes:
    """Good bytes with some whole words or numbers replaced."""
    for number, word in edits:
        found = list(_WORD.finditer(data))
        if found:
            one = found[number % len(found)]
            data = data[: one.start()] + word + data[one.end() :]
    return data


def edited(data: bytes, edits: Sequence[Edit]) -> bytes:
    """Good bytes with some of them replaced."""
    for place, token, take in edits:
        at = place % (len(data) + 1)
        data = data[:at] + token + data[at + take :]
    return data


# ------------------------------------------------------------------------------------------------ good inputs

EDITED = (
    "ankle/region.yaml", "ankle/findings/story.yaml", "ankle/measures/range.yaml", "ankle/options/back_glide.yaml",
    "ankle/screens/fracture_rule.yaml", "ankle/hypotheses/talus_back_glide.yaml", "ankle/load_classes/all.yaml",
    "ankle/evidence/a-study.yaml", "scales.yaml", "policy.yaml",
)  # fmt: skip
CLINIC = {"clinic.yaml": b"clinic: north\nname: North Clinic\nprefix: nc\n"}
OVERLAYS = (
    b"- {changes: back_glide, dose: {text: 2 x 60 s, basis: practice}}\n"
    b"- {changes: calf_stretch, name: stretch, signed_off: {roles: [lead], date: 2026-01-01, until: 2026-12-31, "
    b"reason: own}}\n",
    b"- {retires: calf_stretch, reason: not used here}\n- {id: nc_walk, name: walk, lane: due, load_classes: "
    b"[education]}\n",
)
SNAPSHOT = b"""region: ankle
context: {side: left, age: 34, setting: after_sprain, days_since: {injury: 42}, surgery: none}
findings: {front_pinch: present, fever: absent, joint_hot_red: {right: absent}, calf_tight: {sure: 0.7}}
measures:
  - {measure: knee_to_wall, side: left, tool: tape, values: [4.0, 4.5]}
"""
SCENARIO = b"""id: nobody
name: nobody at all
region: ankle
level: easy
person: {side: left, age: 40, sex: female, setting: after_sprain, days_since: {injury: 30}}
truth: [short_calf]
story: It is stiff.
texts: {problem: stairs, goal: stairs}
answers:
  front_pinch: {value: absent}
  calf_tight: {value: present, told: volunteered, says: it pulls}
measures: {knee_to_wall: {left: 4.0, right: 9.0}}
responses:
  - {options: [calf_stretch], gain: {knee_to_wall: 2.0}}
second_visit: {days: 7, texts: {day: as before}}
"""
CASEMIX = b"""id: mix
basis: practice
settings:
  - {setting: after_sprain, weight: 1.0, days: {injury: [10, 90]}, age: [18, 60], problems: [stairs]}
"""
LANDMARKS = b"shaft,412,80\nshaft,410,400\ndome,380,640\ndome,410,655\ndome,440,640\nscale,0.25\nfront,right\n"
STUDIES = (
    b"scale: plain\nstudies:\n- {name: A, value: 1.5, ci: [0.5, 2.5]}\n- {name: B, value: 1, se: 0.4}\n",
    b"scale: ratio\nstudies:\n- {name: A, treated: [4, 20], control: [8, 22]}\n"
    b"- {name: B, value: 0.8, ci: [0.5, 1.28]}\n",
    b"scale: lr_pos\nstudies:\n- {name: A, tp: 20, fn: 5, fp: 4, tn: 30}\n- {name: B, tp: 9, fn: 5, fp: 2, tn: 12}\n",
)
TYPED = (*TREATED, "undo", "why short calf")
EMPTY = CaseState(case="oak-17", visits=(Visit(1, None),), context=Context(side="left"))


class TooSlow(Exception):
    """An input that was still being read when the time was up."""


@contextmanager
def within(seconds: int) -> Iterator[None]:
    """Raise TooSlow inside the block after so long. Main thread only."""

    def stop(number: int, frame: FrameType | None) -> None:
        raise TooSlow(f"still reading after {seconds} s")

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def check_refusal(refused: InputRefused) -> None:
    """It says something, on lines that are whole and harmless."""
    assert refused.problems
    for problem in refused.problems:
        line = str(problem)
        assert line.strip()
        assert line == visible(line)
        assert len(line) < 2000, line[:200]


def _say(message: str) -> NoReturn:
    raise InputRefused([Problem("", message)])


class Bench:
    """The targets, with what they need: the small pack, and a folder to write in."""

    def __init__(self, knowledge: Knowledge, folder: Path) -> None:
        """`knowledge`: the small pack, loaded. `folder`: an empty one of the test's own."""
        self.knowledge, self.folder = knowledge, folder
        self.pack = write_pack(folder / "pack")
        visit = begin(knowledge, folder / "home")
        visit.script(*TYPED)
        trail = visit.sitting.trail
        self.entries = [f"{e.event} {json.dumps(e.payload)}".encode() for e in trail.entries]
        self.known = trail.entries
        add(trail.path, trail.entries, kind="remark", on=2, text="why so?", by="KM", role="mentor", at=NOW)
        self.remarked = remarks_file(trail.path).read_bytes()
        dossier = Dossier(
            knowledge, visit.sitting.state, visit.sitting.advice, as_of=NOW, now=NOW, by="KM", role="physio",
            count=trail.head.count, head=trail.head.hash, engine="0", clinic=Letterhead(), dates="real",
        )  # fmt: skip
        self.told = json.dumps(bundle(dossier)).encode()

    def targets(self) -> Mapping[str, tuple[Callable[[bytes], object], tuple[bytes, ...]]]:
        """Name -> (function, good inputs)."""
        lines = sealed(self.entries).splitlines()
        return {
            "yaml": (self.yaml, (TINY["ankle/region.yaml"].encode(), SNAPSHOT)),
            "snapshot": (self.snapshot, (SNAPSHOT,)),
            "knowledge": (self.entry, tuple(f"# {name}\n{TINY[name]}".encode() for name in EDITED)),
            "overlay": (self.overlay, OVERLAYS),
            "clinic header": (self.header, (b"clinic: north\nname: North Clinic\nprefix: nc\n",)),
            "scenario": (self.scenario, (SCENARIO,)),
            "case mix": (self.casemix, (CASEMIX,)),
            "readings": (self.readings, (b"person,anna,bert\np1,4.5,5.0\np2,7,7.3\np3,9,9.6\n",)),
            "landmarks": (self.landmarks, (LANDMARKS,)),
            "studies": (self.studies, STUDIES),
            "letterhead": (self.letterhead, (b'name = "North Clinic"\nphone = "1"\npaper = "A4"\n',)),
            "bundle": (self.bundle, (self.told,)),
            "trail line": (self.line, tuple(lines)),
            "trail": (self.whole_trail, (b"\n".join(lines) + b"\n",)),
            "trail payload": (self.payload, (b"\n".join(self.entries), b"\n".join(self.entries[:6]))),
            "remarks": (self.remarks, (self.remarked,)),
            "clinic record": (self.record, (b'{"folder": "/x", "copies": [{"digest": "", "at": "", "by": ""}]}',)),
            "script": (self.script, ("\n".join(TYPED).encode(),)),
        }

    # --------------------------------------------------------------------------------------- knowledge

    def yaml(self, data: bytes) -> None:
        document, problems = parse(data, "file.yaml")
        if document is None:
            raise InputRefused(problems)

    def snapshot(self, data: bytes) -> None:
        state = state_of(read_snapshot(self._file(data)), self.knowledge, NOW)
        advise(self.knowledge, state, NOW)

    def entry(self, data: bytes) -> None:
        """One of the pack's own files; which one, its first line tells."""
        name = next((n for n in EDITED if data.startswith(f"# {n}\n".encode())), EDITED[0])
        path = self.pack / name
        path.write_bytes(data)
        try:
            self._loaded(load(self.pack))
        finally:
            path.write_text(TINY[name], encoding="utf-8")

    def overlay(self, data: bytes) -> None:
        self._loaded(load(self.pack, clinic=ClinicCopy({**CLINIC, "ankle/options/ours.yaml": data}, "2026-03-02")))

    def header(self, data: bytes) -> None:
        self._loaded(load(self.pack, clinic=ClinicCopy({"clinic.yaml": data}, "2026-03-02")))

    def _loaded(self, found: tuple[Knowledge | None, list[object]]) -> None:
        knowledge, problems = found
        if knowledge is None:
            raise InputRefused(problems)  # type: ignore[arg-type]
        from reasoner.inference.compile import compile_problems

        compile_problems(knowledge)

    def scenario(self, data: bytes) -> None:
        read_scenario(data, "file.yaml", self.knowledge)

    def casemix(self, data: bytes) -> None:
        read_casemix(data, "file.yaml", self.knowledge)

    # --------------------------------------------------------------------------------------- tables of one's own

    def readings(self, data: bytes) -> None:
        table = read_readings(self._file(data)).table
        try:
            reliability(table)
        except ValueError as error:  # the command says it as a problem of the file
            _say(str(error))

    def landmarks(self, data: bytes) -> None:
        from random import Random

        from reasoner.geometry.alignment import align, bootstrap

        marks, _ = read_landmarks(text_of(self._file(data), CODE), "file.txt")
        try:
            align(marks)
            bootstrap(marks, 0.5, Random(1), draws=20)
        except ValueError as error:
            _say(str(error))

    def studies(self, data: bytes) -> None:
        document, problems = parse(data, "file.yaml")
        if document is None:
            raise InputRefused(problems)
        studies, problems = read_studies(document)
        if studies is None:
            raise InputRefused(problems)
        pool(studies.studies)

    def letterhead(self, data: bytes) -> None:
        self._file(data, "letterhead.toml")
        read_letterhead(self.folder, asked=True)

    def bundle(self, data: bytes) -> None:
        try:
            told = parse_json(data)
        except BadLine:
            return  # the command says so before
        snapshot_of_bundle(told, self.knowledge)

    # --------------------------------------------------------------------------------------- records

    def line(self, data: bytes) -> None:
        try:
            decode(data)
        except BadLine as error:
            _say(str(error))

    def whole_trail(self, data: bytes) -> None:
        path = self._file(data, "oak-17.jsonl")
        entries, problems = read(path)
        verify(path, None)
        if entries:
            recorded_of(entries)
        if problems:
            raise InputRefused(problems)

    def payload(self, data: bytes) -> None:
        """`event payload` a line, sealed as the program seals: a chain that holds, with anything in it."""
        path = self._file(sealed(data.split(b"\n")), "oak-17.jsonl")
        result = scan(path)
        if result.entries:
            advise(self.knowledge, state_of_trail(result.entries), NOW)
            html_page(page_one(Reading.of_sitting(self.knowledge, path, result.entries)))

    def remarks(self, data: bytes) -> None:
        trail = self._file(b"", "oak-17.jsonl")
        remarks_file(trail).write_bytes(data)
        remarks_of(trail, self.known)

    def record(self, data: bytes) -> None:
        self._file(data, "clinic.json")
        in_use(self.folder)

    def script(self, data: bytes) -> None:
        for text in lines_of(self._file(data)):
            try:
                parse_line(text, self.knowledge, EMPTY, None)
            except (Refused, Unclear):
                continue

    # --------------------------------------------------------------------------------------- what they start from

    def _file(self, data: bytes, name: str = "file.txt") -> Path:
        path = self.folder / name
        path.write_bytes(data)
        return path


def sealed(payloads: Sequence[bytes]) -> bytes:
    """Lines of `event payload` as a chain that holds, whatever stands in them: sealed as the program seals."""
    previous, made = "sha256:" + "0" * 64, []
    for number, one in enumerate(payloads, 1):
        event, _, payload = one.partition(b" ")
        body = (
            b'{"seq":%d,"at":"2026-03-02T09:00:00+00:00","by":"KM","role":"physio","event":"%s","schema":1,'
            b'"knowledge":"ab","previous":"%s","payload":%s,"texts":{}' % (number, event, previous.encode(), payload)
        )
        previous = sha256(body)
        made.append(body + b',"hash":"%s"}\n' % previous.encode())
    return b"".join(made)
