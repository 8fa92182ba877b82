"""What every problem code of a clinic's folder means."""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["OVERLAY_CODES"]

OVERLAY_CODES: Mapping[str, str] = {
    "O-CLINIC": "clinic.yaml is missing or not complete. It says who the folder belongs to: clinic: (short id), name:, "
    "and prefix: (two to six small letters that begin the ids of the clinic's own entries).",
    "O-TARGET": "An entry changes or retires something the shipped knowledge does not have, so that nothing would "
    "happen. Write the id of a shipped entry of this folder's kind.",
    "O-NOTHING": "A patch takes away or removes something that is not there, so that nothing would happen.",
    "O-EMPTY": "A patch changes nothing. Name the fields that change, or remove the entry.",
    "O-SAME": "A patch says what the shipped entry says already. Leave the field out: a patch names only what changes. "
    "A note, not an error, because a new version may have taken the change over.",
    "O-LIST": "Entries of this list cannot be changed one by one. Write the whole list, or {add: [..], remove: [..]}.",
    "O-PREFIX": "A new entry's id does not begin with the clinic's prefix. Ids of the clinic's own begin with it, so "
    "that a later shipped entry can never take the same id. To change a shipped entry write changes: ID.",
    "O-TWICE": "Two entries of the folder change or retire the same shipped entry. Put them together.",
    "O-META": "changes:, retires:, base:, signed_off:, reason: and instead: have a fixed form: changes: or retires: "
    "with an id, base: with the digest the tool filled in, signed_off: {roles: [...], date:, until:, reason:}.",
    "O-SIGNED": "signed_off: is not complete. It needs roles: (who answers for it, roles and not names), date:, "
    "until: (at most two years later) and reason:. Dates are written year-month-day.",
    "O-RETIRE": "Only findings and options are retired. Screens, protocols, load classes, measures, hypotheses and "
    "evidence are changed instead, and signed for where that makes something looser.",
    "O-EXPIRED": "The signature of an entry has run out. Until it is signed again the shipped entry holds. A note.",
    "O-MOVED": "The shipped entry has changed since the clinic's patch was written. For fields that bear on safety the "
    "stricter of both holds; for the others the clinic's own. Look with: reasoner knowledge review ID. A note.",
    "O-LOOSER": "An entry makes something looser than the shipped knowledge: a danger sign is sent later or missed, an "
    "act opens earlier, a serious illness is thought less likely. It is judged by what it does, not by which field "
    "it changes. Make it as strict, or sign for it: signed_off: {roles: [...], date:, until:, reason:}.",
}
