"""Names proposed on Tab. A proposal fills in the line; it records nothing and chooses nothing by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document

from reasoner.graph.knowledge import plain
from reasoner.prompt.names import Lexicon
from reasoner.prompt.verbs import VERBS

__all__ = ["NameCompleter"]

_MOST = 8
# word of command -> kinds of name that follow it
_AFTER = {
    "treat": ("option",), "give": ("option",), "consent": ("option",), "later": ("option",),
    "resolve": ("screen",), "why": ("hypothesis", "option", "screen", "finding"), "signs": ("measure",),
    "retest": ("measure",), "judge": ("hypothesis",), "competence": ("load class",), "withdraw": ("finding",),
    "setting": ("setting",),
}  # fmt: skip


class NameCompleter(Completer):
    """Completes the last chunk of the line. `lexicon` gives the names as they are now."""

    def __init__(self, lexicon: Callable[[], Lexicon]) -> None:
        self._lexicon = lexicon

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterable[Completion]:
        """Names whose words begin like the typed ones, best first."""
        before = document.text_before_cursor
        chunk = before.replace(";", ",").rpartition(",")[2].lstrip()
        verb, _, rest = chunk.partition(" ")
        kinds = _AFTER.get(verb.lower())
        typed = rest.lstrip() if kinds is not None else chunk
        if not typed:
            return
        seen: set[str] = set()
        for name in self._proposals(kinds, typed, whole=chunk == before):
            if name not in seen and len(seen) < _MOST:
                seen.add(name)
                yield Completion(name, start_position=-len(typed))

    def _proposals(self, kinds: tuple[str, ...] | None, typed: str, *, whole: bool) -> Iterator[str]:
        lexicon = self._lexicon()
        if kinds is None and whole:
            yield from (verb for verb in VERBS if verb.startswith(plain(typed)))
        for kind in kinds or ("finding", "measure"):
            yield from (plain(c.name) for c in lexicon.near(kind, typed))

