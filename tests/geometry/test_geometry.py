"""Circle, axis and two arcs: known shapes come back, noise behaves as it should, bad files give one clear line."""

from __future__ import annotations

import json
import math
from pathlib import Path
from random import Random
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.cli import main
from reasoner.geometry.alignment import Landmarks, align, bootstrap
from reasoner.geometry.arcs import Arcs, lip_angle_equal_radii, seat
from reasoner.geometry.circle import arc_degrees, fit_circle
from tests.strategies import CALM

ARCS = Arcs(20, 20, 30, 35, 65, 1.0)
FLATTER = Arcs(21, 20, 30, 35, 65, 1.0)
angles = st.lists(st.integers(0, 359), min_size=3, max_size=12, unique=True)
coordinates = st.floats(-500, 500)


def on_circle(x: float, y: float, r: float, degrees: list[int] | range) -> tuple[tuple[float, float], ...]:
    """Points at these angles."""
    return tuple((x + r * math.cos(math.radians(a)), y + r * math.sin(math.radians(a))) for a in degrees)


def view(
    offset: float = 1.2, radius: float = 20.0, lean: float = 5.0, front: int = 1, scale: float = 0.25
) -> Landmarks:
    """A side view with a known offset (mm), the axis leaning by `lean` degrees. Picture: y runs down."""
    a = math.radians(lean)
    along, across = (math.sin(a), math.cos(a)), (math.cos(a) * front, -math.sin(a) * front)
    top, length, k = (100.0, 50.0), 200.0, 1 / scale
    low = (top[0] + along[0] * length, top[1] + along[1] * length)
    centre = (top[0] + along[0] * 320 + across[0] * offset * k, top[1] + along[1] * 320 + across[1] * offset * k)
    return Landmarks((top, low), on_circle(*centre, radius * k, range(200, 341, 20)), scale, front)


@CALM
@given(coordinates, coordinates, st.floats(0.1, 300), angles)
def test_points_on_a_circle_give_that_circle(x: float, y: float, r: float, degrees: list[int]) -> None:
    points = on_circle(x, y, r, degrees)
    spread = sorted(degrees)
    widest = max(b - a for a, b in zip(spread, [*spread[1:], spread[0] + 360], strict=True))
    if 360 - widest < 20:
        return  # a short arc is told by hand below
    found = fit_circle(points)
    assert (found.x, found.y, found.r) == pytest.approx((x, y, r), rel=1e-5, abs=1e-4 * r + 1e-6)
    assert found.rms <= 1e-6 * r + 1e-9
    assert arc_degrees(points, found) == pytest.approx(360 - widest, abs=0.01)


def test_no_other_circle_nearby_fits_better() -> None:
    made = Random(3)
    points = [(x + made.gauss(0, 0.5), y + made.gauss(0, 0.5)) for x, y in on_circle(4, -7, 20, range(200, 341, 20))]
    found = fit_circle(points)
    cost = sum((math.hypot(x - found.x, y - found.y) - found.r) ** 2 for x, y in points)
    assert found.rms == pytest.approx(math.sqrt(cost / len(points)))
    for dx, dy, dr in [(d, 0, 0) for d in (-0.05, 0.05)] + [(0, d, 0) for d in (-0.05, 0.05)] + [(0, 0, 0.05)]:
        moved = sum((math.hypot(x - found.x - dx, y - found.y - dy) - found.r - dr) ** 2 for x, y in points)
        assert moved > cost


@pytest.mark.parametrize("points", [[(0, 0), (1, 1)], [(0, 0), (1, 1), (2, 2)], [(0, 0), (0, 0), (1, 1), (1, 1)],
                                    [(0, 0), (1, 0), (math.nan, 2)], [(0, 0), (100, 0), (200, 1e-4)]])  # fmt: skip
def test_too_few_or_straight_points_are_refused(points: list[tuple[float, float]]) -> None:
    with pytest.raises(ValueError, match=r"three or more|straight line|finite"):
        fit_circle(points)


@CALM
@given(st.floats(-6, 6), st.floats(8, 40), st.floats(-40, 40), st.sampled_from([1, -1]), st.floats(0.05, 3))
def test_a_known_offset_comes_back_whatever_the_picture(
    offset: float, radius: float, lean: float, front: int, scale: float
) -> None:
    found = align(view(offset, radius, lean, front, scale))
    assert found.offset == pytest.approx(offset, abs=1e-5)
    assert found.circle.r == pytest.approx(radius, rel=1e-6)
    assert found.ratio == pytest.approx(offset / radius, abs=1e-6)


def test_front_and_back_change_places_with_the_picture() -> None:
    marks = view(2.0)
    turned = Landmarks(marks.shaft, marks.dome, marks.scale, -1)
    assert align(turned).offset == pytest.approx(-2.0)


def test_share_of_the_length_behind_the_axis() -> None:
    marks = Landmarks(((0, 0), (0, 10)), on_circle(0, 30, 5, range(200, 341, 20)), 1.0, 1, ((-7, 40), (13, 40)))
    assert align(marks).share == pytest.approx(7 / 20)
    with pytest.raises(ValueError, match="which side is front"):
        align(Landmarks(marks.shaft, marks.dome, 1.0, -1, marks.ends))


@pytest.mark.parametrize("shaft", [((0, 0), (0, 0)), ((0, 0), (50, 1))])
def test_a_shaft_that_is_none_is_refused(shaft: tuple[tuple[float, float], tuple[float, float]]) -> None:
    with pytest.raises(ValueError, match=r"the same|across the picture"):
        align(Landmarks(shaft, on_circle(0, 30, 5, range(0, 180, 30)), 1.0, 1))


def noisy(made: Random, sd: float = 0.5) -> Landmarks:
    """The known view (offset 1.2 mm, radius 20 mm), every point clicked with an error of `sd` mm."""
    true, k = view(1.2), 0.25

    def clicked(p: tuple[float, float]) -> tuple[float, float]:
        return p[0] + made.gauss(0, sd / k), p[1] + made.gauss(0, sd / k)

    return Landmarks((clicked(true.shaft[0]), clicked(true.shaft[1])), tuple(clicked(p) for p in true.dome), k, 1)


def bias(errors: list[float]) -> tuple[float, float]:
    """(mean error, its standard error)."""
    mean = sum(errors) / len(errors)
    sd = math.sqrt(sum((e - mean) ** 2 for e in errors) / (len(errors) - 1))
    return mean, sd / math.sqrt(len(errors))


def covered(draws: int, clicks: int, seed: int) -> tuple[float, float]:
    """(share of draws whose 95 % range holds the true offset, mean half width in mm)."""
    made, inside, widths = Random(seed), 0, []
    for _ in range(draws):
        low, high = bootstrap(noisy(made), 0.5, made, clicks).offset
        inside += low <= 1.2 <= high
        widths.append((high - low) / 2)
    return inside / draws, sum(widths) / draws


def test_a_thousand_noisy_draws_find_offset_and_radius_without_bias() -> None:
    made = Random(5)
    found = [align(noisy(made)) for _ in range(1000)]
    for errors in ([f.offset - 1.2 for f in found], [f.circle.r - 20.0 for f in found]):
        mean, se = bias(errors)
        assert abs(mean) < 4 * se + 0.05  # mm; a fitted radius is a little biased, by some sd^2 / r: .25 / 20


def test_the_range_from_repeated_clicks_covers_the_offset() -> None:
    share, width = covered(draws=100, clicks=60, seed=5)
    assert share > 0.85  # binomial: .95 - 4 sqrt(.95 * .05 / 100) = .863, less for 60 clicks
    assert 1 < width < 3  # mm, for clicks of half a millimetre


@pytest.mark.slow
def test_coverage_over_a_thousand_noisy_draws(capsys: pytest.CaptureFixture[str]) -> None:
    made = Random(11)
    mean, se = bias([align(noisy(made)).offset - 1.2 for _ in range(1000)])
    share, width = covered(draws=1000, clicks=60, seed=11)
    with capsys.disabled():
        print(f"\noffset over 1000 draws: bias {mean:+.3f} mm (se {se:.3f}), coverage {share:.3f}, +-{width:.2f} mm")
    assert abs(mean) < 4 * se
    assert 0.91 < share < 0.99


def test_the_same_seed_gives_the_same_range_and_more_error_a_wider_one() -> None:
    marks = view()
    one, two = bootstrap(marks, 0.5, Random(1), 200), bootstrap(marks, 0.5, Random(1), 200)
    assert one == two
    wide = bootstrap(marks, 1.5, Random(1), 200)
    assert wide.offset[1] - wide.offset[0] > one.offset[1] - one.offset[0]
    assert one.stable
    short = Landmarks(marks.shaft, on_circle(200, 400, 80, [265, 270, 275]), 0.25, 1)
    assert not bootstrap(short, 0.5, Random(1), 200).stable


# ------------------------------------------------------------------------------------------------ two arcs


@CALM
@given(st.floats(-8, 8), st.floats(-8, 8), st.sampled_from([ARCS, FLATTER]))
def test_the_motion_left_rises_with_the_shift_to_the_front(one: float, other: float, arcs: Arcs) -> None:
    low, high = sorted((one, other))
    assert seat(arcs, low).left <= seat(arcs, high).left + 1e-9
    assert seat(arcs, low).lost >= seat(arcs, high).lost - 1e-9
    assert seat(arcs, 0).lost == pytest.approx(0)


@CALM
@given(st.floats(0, 8))
def test_equal_radii_follow_the_closed_form(shift: float) -> None:
    # touching at the front lip, one radius from the centre: sin(angle) = sin(front) - shift / radius
    assert ARCS.dome - seat(ARCS, shift).left == pytest.approx(lip_angle_equal_radii(20, 30, shift))
    expected = math.degrees(math.asin(0.5 - shift / 20))
    assert lip_angle_equal_radii(20, 30, shift) == pytest.approx(expected)


@CALM
@given(st.floats(-8, 8), st.sampled_from([ARCS, FLATTER, Arcs(30, 20, 30, 35, 65, 0.5)]))
def test_the_end_touches_and_never_enters_the_hollow(shift: float, arcs: Arcs) -> None:
    found = seat(arcs, shift)
    gaps = []
    for n in range(2001):
        a = math.radians(-arcs.back + (arcs.front + arcs.back) * n / 2000)
        q = arcs.socket_radius * math.sin(a), arcs.socket_radius * math.cos(a)
        gaps.append(math.hypot(q[0] - found.x, q[1] - found.y) - arcs.radius)
    assert min(gaps) == pytest.approx(0, abs=1e-4)
    counted = sum(g <= arcs.clearance for g in gaps) / 2001 * (arcs.front + arcs.back)
    assert found.contact == pytest.approx(counted, abs=0.2)


def test_arcs_that_cannot_be_are_refused() -> None:
    for bad in [(19, 20, 30, 35, 65, 1), (20, 20, 30, 35, 20, 1), (20, 0, 30, 35, 65, 1), (20, 20, 95, 35, 99, 1)]:
        with pytest.raises(ValueError, match=r"hollow|edges"):
            Arcs(*bad)
    with pytest.raises(ValueError, match="half its radius"):
        seat(ARCS, 11)


# ------------------------------------------------------------------------------------------------ the command

GOOD = """\
# invented clicks
shaft,400,60
shaft,408,420
dome,330,640
dome,350,590
dome,390,560
dome,430,556
dome,470,575
dome,495,612
end,back,300,690
end,front,650,680
scale,0.24
front,right
"""


def test_the_page_and_the_drawing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, drawing = tmp_path / "points.txt", tmp_path / "d.svg"
    file.write_text(GOOD)
    assert main(["measure", "alignment", str(file), "--svg", str(drawing)]) == 0
    out = capsys.readouterr().out
    assert "FOR TEACHING ONLY" in out
    assert "read by those licensed to" in out
    assert "recalled" in out
    assert max(map(len, out.splitlines()[:-1])) <= 80
    root = ElementTree.parse(drawing).getroot()
    assert root.tag.endswith("svg")
    drawn = "".join(root.itertext())
    assert all(word in drawn for word in ("TEACHING", "back end", "front end", "talar dome", "tibial long axis"))
    assert main(["measure", "alignment", str(file)]) == 0
    assert capsys.readouterr().out in out  # the same clicks give the same numbers


@pytest.mark.parametrize(
    ("change", "line", "says"),
    [
        (("shaft,408,420\n", ""), 12, "1 of 2 shaft points"),
        (("shaft,408,420", "shaft,400"), 3, "found 400"),
        (("shaft,408,420", "shaft,400,60"), 3, "twice"),
        (("shaft,408,420", "shaft,900,70"), 1, "across the picture"),
        (("dome,330,640", "dom,330,640"), 4, "did you mean dome"),
        (("dome,330,640", "dome,330,nan"), 4, "found 330,nan"),
        (("dome,330,640", "dome,1e3,4"), 4, "found 1e3,4"),
        (("scale,0.24", "scale,0"), 12, "found 0"),
        (("scale,0.24\n", ""), 12, "no scale"),
        (("front,right", "front,up"), 13, "found up"),
        (("front,right", "front,left"), 1, "which side is front"),
        (("end,back,300,690\n", ""), 12, "one end of two"),
        (("end,back,300,690", "end,side,300,690"), 10, "found side,300,690"),
    ],
)
def test_a_bad_file_is_one_clear_line(
    change: tuple[str, str], line: int, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, drawing = tmp_path / "points.txt", tmp_path / "d.svg"
    file.write_text(GOOD.replace(*change))
    assert main(["measure", "alignment", str(file), "--svg", str(drawing)]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert err.startswith(f"{file}:{line}: ")
    assert says in err
    assert not drawing.exists()


def test_straight_and_few_dome_points_and_other_bad_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    head = "shaft,0,0\nshaft,0,10\nscale,1\nfront,left\n"
    for text, says in [(head + "dome,1,20\ndome,2,20\ndome,3,20\n", "straight line"),
                       (head + "dome,1,20\ndome,2,20\n", "three or more"), ("", "0 of 2")]:  # fmt: skip
        file = tmp_path / "points.txt"
        file.write_text(text)
        assert main(["measure", "alignment", str(file)]) == 2
        assert says in capsys.readouterr().err
    file.write_bytes(b"\x89PNG\xff")
    assert main(["measure", "alignment", str(file)]) == 2
    assert main(["measure", "alignment", str(tmp_path)]) == 2
    file.write_text(GOOD)
    assert main(["measure", "alignment", str(file), "--svg", str(tmp_path / "none" / "d.svg")]) == 2
    assert main(["measure", "alignment", str(file), "--svg", str(tmp_path / "d.txt")]) == 2
    assert capsys.readouterr().out == ""


def test_the_drawing_is_listed_with_its_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "list", "alignment", "--json"]) == 0
    (row,) = json.loads(capsys.readouterr().out)
    assert row["id"] == "side_view"
    assert any("read by those licensed to" in caution for caution in row["cautions"])


def test_only_teaching_reads_the_drawing() -> None:
    """No module that reasons or writes documents names the geometry or the alignment records."""
    root = Path(__file__).parents[2] / "reasoner"
    allowed = {"commands/measure.py", "commands/explain.py", "views/alignment.py", "views/alignment_svg.py"}
    users = {
        path.relative_to(root).as_posix()
        for path in root.rglob("*.py")
        if "reasoner.geometry" in path.read_text(encoding="utf-8") and path.parent.name != "geometry"
    }
    assert users <= allowed
    readers = {
        path.relative_to(root).as_posix()
        for folder in ("facts", "safety", "inference", "options", "advice", "consult", "reports", "case")
        for path in (root / folder).rglob("*.py")
        if ".alignment" in path.read_text(encoding="utf-8")
    }
    assert readers == set()
