"""Names for cases: two plain words and a number, drawn by chance, so that none says anything about a person."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from reasoner.problems import InputRefused, Problem

__all__ = ["new_case"]

# no word that is also a given name
_TREES = (
    "alder", "beech", "birch", "bramble", "cedar", "cypress", "elm", "fern", "fir", "gorse", "hawthorn", "heath",
    "hornbeam", "larch", "lime", "maple", "oak", "pine", "poplar", "spruce", "thistle", "walnut", "yew",
)  # fmt: skip
_ANIMALS = (
    "badger", "beaver", "bison", "crane", "curlew", "dormouse", "eider", "falcon", "gull", "hare", "heron", "ibex",
    "kite", "lynx", "mole", "newt", "otter", "owl", "plover", "seal", "stoat", "swift", "tern", "vole",
)  # fmt: skip
_TRIES = 1000


def new_case(taken: Collection[str], choose: Callable[[Sequence[str]], str]) -> str:
    """A name that is not taken, such as oak-heron-17. `choose` picks one of several: chance is passed in."""
    numbers = [str(n) for n in range(10, 100)]
    for _ in range(_TRIES):
        name = f"{choose(_TREES)}-{choose(_ANIMALS)}-{choose(numbers)}"
        if name not in taken:
            return name
    raise InputRefused([Problem("", "no free case name was found", "give one: session --new oak-heron-117")])
