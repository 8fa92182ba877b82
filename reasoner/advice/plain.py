"""Records as plain data, ready for json.dumps: what scripts and exports are given."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import Any

__all__ = ["plain"]


def plain(thing: Any) -> Any:
    """Records as mappings, tuples as lists, times as text. Foreign text stays as it was written.

    TypeError for what is none of these and no JSON value.
    """
    if is_dataclass(thing) and not isinstance(thing, type):
        return {f.name: plain(getattr(thing, f.name)) for f in fields(thing)}
    if isinstance(thing, datetime):
        return thing.isoformat()
    if isinstance(thing, (tuple, list)):
        return [plain(item) for item in thing]
    if isinstance(thing, dict):
        return {str(k): plain(v) for k, v in thing.items()}
    json.dumps(thing)  # anything else must be a JSON value already
    return thing
