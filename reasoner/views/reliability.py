"""What a clinic's own repeated measures say, as a page; with the entry to copy into the clinic's own folder."""

from __future__ import annotations

from collections.abc import Iterator

from reasoner.graph.records import Measure
from reasoner.measures.error import ErrorUsed, mdc_from_sem
from reasoner.measures.formulas import mdc90_from_sem
from reasoner.measures.readings import Readings
from reasoner.measures.reliability import Estimate, NestedError, Reliability
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows

__all__ = ["reliability_page"]

FEW = 30
"""Below this number of people the page says how little the figures are worth (Hopkins 2000 recommends 50)."""
_FORMS = {
    "1,1": "one reading; who read is not told apart",
    "2,1": "one reading, agreement: differences between columns count",
    "3,1": "one reading, consistency: these columns only",
    "1,k": "mean of all columns",
    "2,k": "mean of all columns, agreement",
    "3,k": "mean of all columns, consistency",
}


def reliability_page(
    readings: Readings, found: Reliability, nested: NestedError | None, measure: Measure | None,
    published: ErrorUsed | None, tool: str, rater: str, interval: str,
) -> Page:
    """The page. `measure` None: nothing is compared and no entry is written."""
    unit = f" {measure.unit}" if measure is not None and measure.unit[:1].isalpha() else ""
    aside = measure.name if measure is not None else "unit as in the file"
    blocks: list[Block] = [
        Heading(f"Repeated measures: {found.people} people, {found.columns} readings each", aside), Gap(),
        Heading("Reliability (intraclass correlation, 95 % interval)"),
        Rows(tuple(_icc(form, found.icc[form]) for form in _FORMS), first=12),
        Heading("Error of measurement"), Rows(tuple(_errors(found, nested, unit)), first=44),
        Heading("Mean of each column"),
        Para("  ".join(f"{n} {m:.2f}" for n, m in zip(readings.columns, found.column_means, strict=True))),
    ]
    if found.people < FEW:
        blocks.append(Para(
            f"Only {found.people} people: the intervals above are what these figures are worth. 30 to 50 people "
            "who differ as your patients do give an error to rely on.", tone="caution",
        ))
    blocks += [Para(str(p), tone="caution") for p in readings.notes]
    if measure is not None:
        blocks += _beside(found, nested, measure, published, unit)
        blocks += _entry(found, nested, measure, tool, rater, interval)
    return tuple(blocks)


def _icc(form: str, e: Estimate) -> tuple[str, str, str]:
    return f"ICC ({form})", f"{_share(e.value)} ({_share(e.low)} to {_share(e.high)})", _FORMS[form]


def _share(value: float) -> str:
    if value < -1:
        return "below -1"
    return f"{value:.2f}".replace("0.", ".", 1) if abs(value) < 0.995 else f"{value:.2f}"


def _errors(found: Reliability, nested: NestedError | None, unit: str) -> Iterator[tuple[str, str]]:
    if nested is None:
        yield "SEM of one reading, columns included", _range(found.sem_agreement, unit)
        yield "SEM of one reading, consistency only", _range(found.sem_consistency, unit)
    yield "least change beyond error, 95 % (MDC95)", f"{mdc_from_sem(_own(found, nested).value):.2f}{unit}"
    yield "the same at 90 % (MDC90)", f"{mdc90_from_sem(_own(found, nested).value):.2f}{unit}"
    if nested is not None:  # readings of one occasion go together, so one reading alone would look too good above
        yield f"SEM, mean of {nested.trials} on one occasion", _range(nested.sem, unit)
        yield "  of it between occasions: more trials do not help", f"{nested.between_occasions:.2f}{unit}"
        yield "  of it one trial", f"{nested.one_trial:.2f}{unit}"
        for trials in sorted({1, 3, 6} - {nested.trials}):
            yield f"SEM, mean of {trials} on one occasion, worked out", f"{nested.of_mean(trials):.2f}{unit}"


def _range(e: Estimate, unit: str) -> str:
    return f"{e.value:.2f} ({e.low:.2f} to {e.high:.2f}){unit}"


def _own(found: Reliability, nested: NestedError | None) -> Estimate:
    """The error to use: of the mean on one occasion where trials are told apart, else of one reading."""
    return nested.sem if nested is not None else found.sem_agreement


def _beside(
    found: Reliability, nested: NestedError | None, measure: Measure, published: ErrorUsed | None, unit: str
) -> list[Block]:
    own = _own(found, nested)
    blocks: list[Block] = [Heading("Beside the figure used now")]
    if published is None:
        return [*blocks, Para(f"no error is known for {measure.name}; your own would be the first")]
    used = f"SEM {published.value:.2f}{unit} ({published.basis}), least change {published.mdc95:.2f}{unit}"
    blocks.append(Para(used))
    inside = own.low <= published.value <= own.high
    said = (
        "it lies within the interval of yours: your figures do not speak against it" if inside
        else "it is larger than yours can explain: your changes are judged too strictly" if published.value > own.high
        else "it is smaller than yours: with it, changes would be believed that are error here"
    )
    blocks.append(Para(said, tone="plain" if inside else "caution"))
    blocks += [Para(f"note: {published.note}")] if published.note else []
    return blocks


def _entry(
    found: Reliability, nested: NestedError | None, measure: Measure, tool: str, rater: str, interval: str
) -> list[Block]:
    """The lines for the clinic's own folder."""
    own = _own(found, nested)
    lines = [
        f"  - tool: {tool}", f"    rater: {rater}", f"    interval: {interval}", f"    sem: {own.value:.2f}",
        f"    mdc95: {mdc_from_sem(own.value):.2f}", "    basis: practice",
        f"    note: own measures, {found.people} people; SEM {own.low:.2f} to {own.high:.2f},",
        f"      MDC90 {mdc90_from_sem(own.value):.2f}",
    ]
    if nested is not None:
        lines.insert(5, f"    sem_between_occasions: {nested.between_occasions:.2f}")
    what = f"the mean of {nested.trials} trials on one occasion" if nested is not None else "one reading"
    return [
        Heading("For your own folder"),
        Para(f"To judge changes by your own error, put this under errors: of {measure.id}. It is for {what}."),
        *(Para(line, indent=0) for line in lines),
    ]
