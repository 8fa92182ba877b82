"""A clinic's folder over the small pack: what merges how, whose line is named, and one bad folder for each code."""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.graph.draft import digest_of_entry
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import load, shipped_entries
from reasoner.graph.overlay.codes import OVERLAY_CODES
from reasoner.graph.overlay.copying import copied
from reasoner.graph.overlay.entries import ClinicCopy
from reasoner.graph.overlay.merge import laid_over
from reasoner.graph.overlay.show import entry_lines
from reasoner.graph.overlay.stamp import stamped
from reasoner.graph.overlay.stricter import stricter_of
from reasoner.graph.source import parse
from reasoner.problems import InputRefused, Problem
from tests.tiny_pack import write_pack

CLINIC = {"clinic.yaml": "clinic: north\nname: North Clinic\nprefix: nc\n"}
SIGNED = "signed_off: {roles: [lead physio], date: 2026-01-01, until: 2027-01-01, reason: our films}\n"


def clinic(files: dict[str, str], today: str = "2026-06-01") -> ClinicCopy:
    """A clinic's copy from texts; clinic.yaml is there unless given."""
    return ClinicCopy({name: text.encode() for name, text in {**CLINIC, **files}.items()}, today)


def over(tmp_path: Path, files: dict[str, str], **given: str) -> tuple[Knowledge | None, list[Problem]]:
    """The small pack with a clinic's files laid over it."""
    return load(write_pack(tmp_path / "base"), "ankle", clinic=clinic(files, **given))


def fine(tmp_path: Path, files: dict[str, str], **given: str) -> Knowledge:
    knowledge, problems = over(tmp_path, files, **given)
    assert knowledge is not None, "\n".join(map(str, problems))
    return knowledge


# ------------------------------------------------------------------------------------------------ what merges how


def test_a_patch_changes_only_what_it_names(tmp_path: Path) -> None:
    base = load(write_pack(tmp_path / "base"))[0]
    assert base is not None
    text = "changes: fixation\nwindows:\n  end_range_dorsiflexion: {later_weeks: 10}\n"
    ours = fine(tmp_path, {"ankle/protocols/ours.yaml": text})
    window, before = ours.protocols["fixation"].windows[0], base.protocols["fixation"].windows[0]
    assert (window.later_weeks, before.later_weeks) == (10, 8)
    assert (window.earlier_weeks, window.basis, window.counted_from) == (6, "practice", "surgery")
    assert ours.digest != base.digest
    assert ours.screens == base.screens


def test_every_field_tells_the_folder_it_came_from(tmp_path: Path) -> None:
    text = "changes: fixation\nwindows:\n  end_range_dorsiflexion:\n    later_weeks: 10\n"
    protocol = fine(tmp_path, {"ankle/protocols/ours.yaml": text}).protocols["fixation"]
    assert protocol.place.whereabouts("windows", 0, "later_weeks") == ("clinic/ankle/protocols/ours.yaml", 4)
    assert protocol.place.whereabouts("windows", 0, "earlier_weeks")[0] == "ankle/protocols/fixation.yaml"
    lines = entry_lines(protocol)
    assert [line for line in lines if line.startswith("clinic")] == ["clinic    windows.1.later_weeks: 10"]
    assert any("ankle/protocols/ours.yaml:4" in line for line in lines)


def test_digest_is_that_of_both_folders(tmp_path: Path) -> None:
    one = fine(tmp_path, {})
    two = fine(tmp_path, {"ankle/options/x.yaml": "changes: calf_stretch\nminutes: 3.0\n"})
    base = load(tmp_path / "base")[0]
    assert base is not None
    assert len({one.digest, two.digest, base.digest}) == 3
    assert "clinic/clinic.yaml" in one.files


def test_lists_take_additions_and_removals() -> None:
    base = {"id": "x", "aliases": ["a", "b"], "bars": [{"when": "f", "say": "s"}]}
    result = laid_over(base, {"aliases": {"add": ["c"], "remove": ["a"]}, "bars": {"add": [{"when": "g", "say": "t"}]}})
    assert result.value["aliases"] == ["b", "c"]
    assert [b["when"] for b in result.value["bars"]] == ["f", "g"]
    assert result.wrong == []
    assert base["aliases"] == ["a", "b"]


def test_a_rule_is_replaced_and_never_mixed() -> None:
    result = laid_over({"rule": {"all": ["a", "b"]}}, {"rule": {"any": ["a", "c"]}})
    assert result.value == {"rule": {"any": ["a", "c"]}}


def test_null_takes_a_field_away() -> None:
    assert laid_over({"id": "x", "use_when": "a"}, {"use_when": None}).value == {"id": "x"}


def test_saying_the_same_is_a_note_and_does_not_stop(tmp_path: Path) -> None:
    ours = fine(tmp_path, {"ankle/options/x.yaml": "changes: calf_stretch\nminutes: 3.0\nlane: try_now\n"})
    assert ours.clinic is not None
    assert [(n.code, n.line) for n in ours.clinic.notes] == [("O-SAME", 3)]


def test_new_entries_are_added(tmp_path: Path) -> None:
    text = "id: nc_talk\nname: our leaflet\nlane: due\nload_classes: [education]\n"
    ours = fine(tmp_path, {"ankle/options/nc_talk.yaml": text})
    assert ours.options["nc_talk"].name == "our leaflet"


# ------------------------------------------------------------------------------------------------ retired, former ids


def test_a_retired_finding_is_understood_and_not_asked(tmp_path: Path) -> None:
    text = "retires: front_pinch\nreason: nobody agrees on it\n"
    ours = fine(tmp_path, {"ankle/findings/x.yaml": text})
    assert ours.findings["front_pinch"].retired == "nobody agrees on it"
    assert ours.finding_names["pinch at the front"] == "front_pinch"


def test_a_screen_never_loses_its_sign(tmp_path: Path) -> None:
    knowledge, problems = over(tmp_path, {"ankle/findings/x.yaml": "retires: bone_tender\nreason: not used\n"})
    assert knowledge is None
    assert [(p.code, p.file) for p in problems] == [("K-RETIRED", "clinic/ankle/findings/x.yaml")]


def test_a_former_id_is_found_by_a_patch_and_by_name(tmp_path: Path) -> None:
    renamed = {"ankle/options/calf_stretch.yaml": (
        "id: long_calf\nformerly: [calf_stretch]\nname: calf stretch\nlane: try_now\n"
        "load_classes: [gentle_calf_stretch]\nacts_on: [short_calf]\nretest: [knee_to_wall]\neffects:\n"
        "  - {sign: knee_to_wall, p1: often, p0: sometimes, certainty: very_low, basis: practice}\n"
    )}  # fmt: skip
    base = write_pack(tmp_path / "base", dict(renamed))
    copy = clinic({"ankle/options/x.yaml": "changes: calf_stretch\nminutes: 3.0\n"})
    ours, problems = load(base, "ankle", clinic=copy)
    assert ours is not None, problems
    assert ours.options["long_calf"].minutes == 3.0
    assert ours.option_names["calf stretch"] == "long_calf"


# ------------------------------------------------------------------------------------------------ the base moves on


def test_the_stricter_of_both_holds_once_the_base_has_changed(tmp_path: Path) -> None:
    entries = shipped_entries(write_pack(tmp_path / "base"))
    digest = digest_of_entry(entries["ankle", "protocol", "fixation"])
    window = "windows:\n  end_range_dorsiflexion: {earlier_weeks: 5, later_weeks: 7}\n"
    text = f"changes: fixation\nbase: '{digest}'\n{window}"
    files = {"ankle/protocols/x.yaml": text}
    before = fine(tmp_path, files)
    assert before.protocols["fixation"].windows[0].later_weeks == 7
    assert before.clinic is not None
    assert before.clinic.notes == ()
    newer = write_pack(tmp_path / "newer", {"ankle/protocols/fixation.yaml": (
        "id: fixation\nname: after plate and screws\napplies_when: {procedure: ankle_fracture_fixation}\nwindows:\n"
        "  - {load_class: end_range_dorsiflexion, counted_from: surgery, later_weeks: 9, basis: practice}\n"
    )})  # fmt: skip
    after, problems = load(newer, "ankle", clinic=clinic(files))
    assert after is not None, problems
    assert after.protocols["fixation"].windows[0].later_weeks == 9
    assert after.clinic is not None
    assert after.clinic.notes[0].code == "O-MOVED"
    assert "later_weeks" in after.clinic.notes[0].message


@pytest.mark.parametrize(
    ("kind", "base", "ours", "expected"),
    [
        ("screen", {"send": "emergency"}, {"send": "urgent"}, {"send": "emergency"}),
        ("screen", {"hands": "nothing"}, {"hands": "unrestricted"}, {"hands": "nothing"}),
        ("screen", {"rule": "a"}, {"rule": "b"}, {"rule": {"any": ["b", "a"]}}),
        ("screen", {"rule": "a"}, {"rule": "a", "use_when": "f"}, {"rule": "a"}),
        ("load_class", {"needs_hands": "unrestricted"}, {"needs_hands": "nothing"}, {"needs_hands": "unrestricted"}),
        ("load_class", {"bars": [{"when": "a"}]}, {"bars": []}, {"bars": [{"when": "a"}]}),
        ("finding", {"holds_for": "visit"}, {"holds_for": "lasting"}, {"holds_for": "visit"}),
        ("policy", {"suspected_above": {"x": 0.1}}, {"suspected_above": {"x": 0.5}}, {"suspected_above": {"x": 0.1}}),
        (
            "hypothesis",
            {"list": "serious", "act_above": 0.01, "base_rate": {"s": {"value": 0.2}}},
            {"list": "serious", "act_above": 0.2, "base_rate": {"s": {"value": 0.1}}},
            {"list": "serious", "act_above": 0.01, "base_rate": {"s": {"value": 0.2}}},
        ),
    ],
)
def test_stricter_of_each_safety_field(kind: str, base: dict, ours: dict, expected: dict) -> None:  # type: ignore[type-arg]
    value, told = stricter_of(kind, base, ours)
    assert value == expected
    assert told


def test_a_stricter_patch_stays_as_it_is() -> None:
    value, told = stricter_of("screen", {"send": "urgent"}, {"send": "emergency"})
    assert (value, told) == ({"send": "emergency"}, ())


def test_an_expired_signature_gives_the_shipped_entry_back(tmp_path: Path) -> None:
    text = "changes: fixation\nwindows:\n  end_range_dorsiflexion: {later_weeks: 6}\n" + SIGNED
    files = {"ankle/protocols/x.yaml": text}
    assert fine(tmp_path, files).protocols["fixation"].windows[0].later_weeks == 6
    late = fine(tmp_path, files, today="2027-01-02")
    assert late.protocols["fixation"].windows[0].later_weeks == 8
    assert late.clinic is not None
    assert [n.code for n in late.clinic.notes] == ["O-EXPIRED"]
    assert late.digest != fine(tmp_path, files).digest


# ------------------------------------------------------------------------------------------------ base digests, copies


def test_base_digests_are_written_into_the_lines(tmp_path: Path) -> None:
    entries = shipped_entries(write_pack(tmp_path / "base"))
    text = "# ours\n- {changes: explanation, minutes: 3.0}  # short\n- changes: back_glide\n  minutes: 4.0\n"
    (change,) = stamped(clinic({"ankle/options/x.yaml": text}).files, entries)
    written = change.writes["ankle/options/x.yaml"].decode()
    one, two = (digest_of_entry(entries["ankle", "option", i]) for i in ("explanation", "back_glide"))
    assert written == (
        f'# ours\n- {{changes: explanation, base: "{one}", minutes: 3.0}}  # short\n'
        f'- changes: back_glide\n  base: "{two}"\n  minutes: 4.0\n'
    )
    document, problems = parse(written.encode(), "x")
    assert document is not None
    assert problems == []
    assert list(stamped({"ankle/options/x.yaml": written.encode()}, entries)) == []


def test_a_copy_keeps_load_classes_and_drops_evidence(tmp_path: Path) -> None:
    shipped = {("ankle", "option", "o"): {
        "id": "o", "name": "n", "lane": "due", "load_classes": ["thrust"], "aliases": ["x"], "basis": "published",
        "evidence": ["e"], "effects": [{"sign": "m", "basis": "published", "evidence": ["e"], "derived": "1 + 1"}],
    }}  # fmt: skip
    name, text, said = copied(shipped, "ankle", "o", "nc_o", "nc")
    document, _ = parse(text.encode(), name)
    assert document is not None
    assert document.value["load_classes"] == ["thrust"]
    assert document.value["effects"] == [{"sign": "m", "basis": "practice"}]
    assert "evidence" not in text
    assert any("Evidence" in line for line in said)
    with pytest.raises(InputRefused, match="does not begin with nc_"):
        copied(shipped, "ankle", "o", "o2", "nc")


# ------------------------------------------------------------------------------------------------ one bad folder a code

X = "ankle/options/x.yaml"
BAD: list[tuple[str, dict[str, str], str, int]] = [
    ("O-CLINIC", {"clinic.yaml": "clinic: north\nname: North Clinic\nprefix: North\n"}, "clinic.yaml", 3),
    ("O-TARGET", {X: "changes: calf_strech\nminutes: 3.0\n"}, X, 1),
    ("O-TARGET", {X: "changes: hot_joint\nsend: urgent\n"}, X, 1),
    ("O-NOTHING", {X: "changes: calf_stretch\nprogression: null\n"}, X, 2),
    ("O-NOTHING", {X: "changes: calf_stretch\nretest: {remove: [knee_to_wal]}\n"}, X, 2),
    ("O-EMPTY", {X: "changes: calf_stretch\n"}, X, 1),
    ("O-LIST", {X: "changes: back_glide\ncautions: {on_painkillers: {say: x}}\n"}, X, 2),
    ("O-PREFIX", {X: "id: talk\nname: t\nlane: due\nload_classes: [education]\n"}, X, 1),
    ("O-PREFIX", {X: "id: explanation\nname: t\nlane: due\nload_classes: [education]\n"}, X, 1),
    ("O-TWICE", {X: "- {changes: calf_stretch, minutes: 3.0}\n- {changes: calf_stretch, minutes: 4.0}\n"}, X, 2),
    ("O-META", {X: "changes: calf_stretch\nid: other\nminutes: 3.0\n"}, X, 2),
    ("O-META", {X: "retires: calf_stretch\n"}, X, 1),
    ("O-META", {"policy.yaml": "certainty_weight: {high: 1.0}\n"}, "policy.yaml", 1),
    ("O-SIGNED", {X: "changes: calf_stretch\nminutes: 3.0\nsigned_off: {roles: [lead], date: 2026-01-01}\n"}, X, 3),
    ("O-SIGNED", {X: "changes: calf_stretch\nminutes: 3.0\n" + SIGNED.replace("2027", "2031")}, X, 3),
    ("O-RETIRE", {"ankle/screens/x.yaml": "retires: hot_joint\nreason: never seen\n"}, "ankle/screens/x.yaml", 1),
]  # fmt: skip


@pytest.mark.parametrize(("code", "files", "file", "line"), BAD, ids=[f"{c}-{n}" for n, (c, *_) in enumerate(BAD)])
def test_bad_folder_gives_its_code_on_its_line(
    code: str, files: dict[str, str], file: str, line: int, tmp_path: Path
) -> None:
    knowledge, problems = over(tmp_path, files)
    assert knowledge is None
    found = [(p.code, p.file, p.line) for p in problems if p.code.startswith("O-")]
    assert (code, f"clinic/{file}", line) in found, problems
    assert {c for c, *_ in found} == {code}
    assert all(p.hint for p in problems)


def test_every_code_is_shown_somewhere() -> None:
    """The notes and O-LOOSER are shown in other tests: here and in tests/upkeep."""
    elsewhere = {"O-SAME", "O-EXPIRED", "O-MOVED", "O-LOOSER"}
    assert {code for code, *_ in BAD} | elsewhere == set(OVERLAY_CODES)


def test_what_a_patch_breaks_is_told_on_the_patch(tmp_path: Path) -> None:
    text = "changes: fixation\nwindows:\n  end_range_dorsiflexion:\n    later_weeks: 4\n"
    knowledge, problems = over(tmp_path, {"ankle/protocols/x.yaml": text})
    assert knowledge is None
    assert [(p.code, p.file, p.line) for p in problems] == [("K-WINDOW", "clinic/ankle/protocols/x.yaml", 4)]


def test_wrong_shapes_are_told_on_the_patch(tmp_path: Path) -> None:
    text = 'changes: fixation\nwindows:\n  end_range_dorsiflexion:\n    later_weeks: "6 weeks"\n'
    knowledge, problems = over(tmp_path, {"ankle/protocols/x.yaml": text})
    assert knowledge is None
    assert [(p.code, p.file, p.line) for p in problems] == [("S-NUMBER", "clinic/ankle/protocols/x.yaml", 4)]


def test_a_clinics_knowledge_is_kept_between_starts(tmp_path: Path) -> None:
    base, cache = write_pack(tmp_path / "base"), tmp_path / "kept.json"
    text = "changes: fixation\nwindows:\n  end_range_dorsiflexion: {later_weeks: 9}\n"
    copy = clinic({"ankle/protocols/x.yaml": text})
    first, _ = load(base, "ankle", cache, copy)
    assert cache.exists()
    again, _ = load(base, "ankle", cache, copy)
    assert first is not None
    assert again is not None
    assert again.clinic == first.clinic
    assert again.protocols == first.protocols
    where = again.protocols["fixation"].place.whereabouts("windows", 0, "later_weeks")
    assert where == ("clinic/ankle/protocols/x.yaml", 3)
    plain, _ = load(base, "ankle", cache)
    assert plain is not None
    assert plain.clinic is None
