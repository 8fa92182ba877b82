"""An alignment drawing as a page: numbers with their ranges, normal values beside them, cautions first and last."""

from __future__ import annotations

from collections.abc import Iterator

from reasoner.geometry.alignment import Alignment as Measured
from reasoner.geometry.alignment import Interval
from reasoner.geometry.arcs import Arcs, Seat
from reasoner.graph.records import Alignment, NormalValue
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows

__all__ = ["TEACHING", "alignment_page"]

TEACHING = "FOR TEACHING ONLY: no reasoning, note, letter or home sheet reads this."


def alignment_page(
    record: Alignment, found: Measured, interval: Interval, click_sd: float, points: int, arcs: Arcs, here: Seat | None
) -> Page:
    """The page. `here` None: shifted too far for the two arcs."""
    blocks: list[Block] = [Heading(record.name, "alignment drawing"), Para(TEACHING, tone="caution")]
    blocks += [Para(c) for c in record.cautions]
    blocks += [Gap(), Heading("Measured"), Rows(tuple(_numbers(record, found, interval)), first=44)]
    blocks.append(Para(
        f"circle through {points} points over {found.arc:.0f} degrees, residual {found.circle.rms:.2f} mm; in brackets "
        f"95 % of repeated clicks with an error of {click_sd:g} mm each way"
    ))
    if not interval.stable:
        failed = f"; {interval.failed:.0%} of them gave no circle" if interval.failed else ""
        blocks.append(Para(
            f"UNSTABLE: repeated clicks move the circle too much{failed}. Add points over a longer arc; until then no "
            "number here means anything.", tone="caution",
        ))
    blocks += [Gap(), Heading("Beside published values")]
    blocks += [Para(text) for n in record.normals for text in _normal(n, found, interval)]
    blocks += [Gap(), Heading("Two arcs", "bone only"), *(Para(text) for text in _arcs(record, arcs, here))]
    return tuple(blocks)


def _numbers(record: Alignment, found: Measured, interval: Interval) -> Iterator[tuple[str, str]]:
    side = "before" if found.offset >= 0 else "behind"
    low, high = interval.offset
    yield f"{record.dome} centre {side} the {record.axis}", f"{found.offset:+.1f} mm ({low:+.1f} to {high:+.1f})"
    yield "the same over the radius", f"{found.ratio:+.2f} ({interval.ratio[0]:+.2f} to {interval.ratio[1]:+.2f})"
    yield "radius", f"{found.circle.r:.1f} mm ({interval.radius[0]:.1f} to {interval.radius[1]:.1f})"
    if found.share is not None and interval.share is not None:
        low, high = interval.share
        yield "share of the length behind the axis", f"{found.share:.2f} ({low:.2f} to {high:.2f})"


def _normal(normal: NormalValue, found: Measured, interval: Interval) -> Iterator[str]:
    own = {"offset": found.offset, "offset_ratio": found.ratio, "length_share": found.share, "radius": found.circle.r}
    ranges = {"offset": interval.offset, "offset_ratio": interval.ratio, "length_share": interval.share,
              "radius": interval.radius}  # fmt: skip
    value, spread = own[normal.of], ranges[normal.of]
    low, high = normal.mean - 1.96 * normal.sd, normal.mean + 1.96 * normal.sd
    digits = 2 if normal.of in ("offset_ratio", "length_share") else 1
    people = f"95 % of people {low:.{digits}f} to {high:.{digits}f}"
    head = f"{normal.name} ({normal.basis}): mean {normal.mean:.{digits}f}, {people}"
    if value is None or spread is None:
        yield f"{head}; not measured here (add the two ends)"
        return
    if spread[1] < low or spread[0] > high:
        said = "outside it, click error included"
    elif low <= spread[0] and spread[1] <= high:
        said = "within it"
    else:
        said = "click error alone reaches over its edge: cannot be told"
    yield f"{head}; here {value:.{digits}f}: {said}"
    if normal.agreement:
        yield f"  {normal.agreement}"
    if normal.note:
        yield f"  {normal.note}"


def _arcs(record: Alignment, arcs: Arcs, here: Seat | None) -> Iterator[str]:
    yield (
        f"A {record.socket} of radius {arcs.socket_radius:.1f} mm on a {record.dome} of {arcs.radius:.1f} mm; "
        f"what meets is the {record.front}."
    )
    if here is None:
        yield "shifted by more than half the radius: it no longer lies in the hollow, so nothing is drawn"
        return
    yield f"touching within {arcs.clearance:g} mm over {here.contact:.0f} degrees of {arcs.front + arcs.back:.0f}"
    turn = "sooner" if here.lost > 0 else "later"
    yield (
        f"{record.motion}: {here.left:.0f} degrees until the front edges meet, {abs(here.lost):.1f} {turn} than with "
        "no shift. In these arcs a centre further back brings the edges together sooner, one further front later; "
        "what soft tissue does is not in them."
    )
