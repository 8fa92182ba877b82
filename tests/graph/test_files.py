"""Which files are read, and which are told about."""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.graph.files import collect, first_region, regions
from reasoner.graph.load import load
from tests.tiny_pack import TINY, write_pack


def codes(folder: Path, region: str = "ankle") -> list[tuple[str, str]]:
    return [(p.code, p.file) for p in collect(folder, region)[1]]


def test_every_file_is_read_once_with_its_kind(tiny_folder: Path) -> None:
    files, problems = collect(tiny_folder, "ankle")
    assert problems == []
    assert [f.name for f in files] == sorted(TINY)
    kinds = {f.name: f.kind for f in files}
    assert kinds["policy.yaml"] == "policy"
    assert kinds["ankle/region.yaml"] == "region"
    assert kinds["ankle/load_classes/all.yaml"] == "load_class"


def test_subfolders_are_read_and_side_files_passed_over(tmp_path: Path) -> None:
    extra = {
        "ankle/options/home/more.yaml": "id: more\n",
        "ankle/options/more.yaml~": "x",
        "ankle/options/.more.yaml.swp": "x",
        "ankle/README.md": "x",
        ".git/x.yaml": "x",
        "knee/findings/x.txt": "another region",
    }
    write_pack(tmp_path, dict(extra))
    files, problems = collect(tmp_path, "ankle")
    assert problems == []
    assert {f.name for f in files} - set(TINY) == {"ankle/options/home/more.yaml"}


@pytest.mark.parametrize(
    "name",
    ["ankle/options/a.yml", "ankle/options/a.YAML", "ankle/options/a.yaml.txt", "ankle/options/a.yaml.bak",
     "ankle/options/a (1).yaml", "ankle/options/a - Copy.yaml", "ankle/options/a.json"],
)  # fmt: skip
def test_files_not_read_because_of_their_name(name: str, tmp_path: Path) -> None:
    assert codes(write_pack(tmp_path, {name: "id: a\n"})) == [("F-NAME", name)]


def test_a_file_larger_than_any_real_one_is_told_with_what_to_do(tmp_path: Path) -> None:
    (problem,) = collect(write_pack(tmp_path, {"ankle/options/a.yaml": "# " + "x" * 1_000_001}), "ankle")[1]
    assert (problem.code, problem.file) == ("F-READ", "ankle/options/a.yaml")
    assert "larger than 1 MB; split it" in str(problem)


@pytest.mark.parametrize("name", ["fracture.yaml", "ankle/fracture.yaml", "ankle/option/a.yaml"])
def test_files_in_the_wrong_place(name: str, tmp_path: Path) -> None:
    assert codes(write_pack(tmp_path, {name: "id: a\n"})) == [("F-FOLDER", name)]


def test_no_region_is_built_in(tmp_path: Path) -> None:
    """Where none is named the first of the folder is meant, whatever it is called."""
    other = {name.replace("ankle/", "wrist/"): text.replace("id: ankle\nname: ankle", "id: wrist\nname: wrist")
             for name, text in TINY.items()}  # fmt: skip
    folder = write_pack(tmp_path, {**dict.fromkeys(TINY), **other})
    assert not (folder / "ankle").exists()
    assert first_region(folder) == "wrist"
    knowledge, problems = load(folder)
    assert knowledge is not None, problems
    assert knowledge.region.id == "wrist"
    assert main(["--knowledge", str(folder), "knowledge", "list", "findings"]) == 0
    assert first_region(tmp_path / "none") == ""


def test_missing_files_and_folders(tmp_path: Path) -> None:
    assert codes(tmp_path / "none") == [("F-MISSING", str(tmp_path / "none"))]
    write_pack(tmp_path, {"scales.yaml": None})
    assert codes(tmp_path) == [("F-MISSING", "scales.yaml")]
    (problem,) = collect(tmp_path, "knee")[1]
    assert "regions here: ankle" in problem.hint
    assert regions(tmp_path) == ("ankle",)


def test_a_regions_own_folder_is_told_from_the_one_above(tiny_folder: Path) -> None:
    (problem,) = collect(tiny_folder / "ankle", "ankle")[1]
    assert (problem.code, problem.hint) == ("F-FOLDER", "give the folder above it")


def test_links_to_folders_are_not_followed(tmp_path: Path) -> None:
    write_pack(tmp_path)
    (tmp_path / "ankle/options/again").symlink_to(tmp_path / "ankle", target_is_directory=True)
    assert codes(tmp_path) == [("F-READ", "ankle/options/again")]


def test_a_file_that_cannot_be_opened(tmp_path: Path) -> None:
    write_pack(tmp_path)
    (tmp_path / "ankle/options/gone.yaml").symlink_to(tmp_path / "nowhere.yaml")
    assert codes(tmp_path) == [("F-READ", "ankle/options/gone.yaml")]
