"""What every problem code means: reading, files, shapes, and rules across records."""

from __future__ import annotations

from reasoner.graph.checks import CHECKS
from reasoner.graph.files import FILE_CODES
from reasoner.graph.network import NETWORK_CHECKS
from reasoner.graph.sealed import SEALED_CODES
from reasoner.graph.shape import SHAPE_CODES
from reasoner.graph.source import READER_CODES

__all__ = ["reference"]


def reference() -> dict[str, str]:
    """Code -> reference text, in the order problems are looked for."""
    across = {check.code: check.text for check in (*CHECKS, *NETWORK_CHECKS)}
    return {**FILE_CODES, **SEALED_CODES, **READER_CODES, **SHAPE_CODES, **across}
