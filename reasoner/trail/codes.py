"""Problems with the record of a case and with what is done to it as a whole: code -> reference text."""

from __future__ import annotations

__all__ = ["TRAIL_CODES"]

TRAIL_CODES: dict[str, str] = {
    "T-AGE": """Something encrypted cannot be read, or encrypted.

Another key, a changed byte and a missing end look the same from outside, and then nothing is given. A recipient is what
`reasoner config key` or age-keygen printed (age1...). The package pyrage is optional.""",
    "T-ANCHOR": """The anchor of a trail is missing, damaged, or was begun anew.

It holds how many lines there are and the hash of the last, apart from the trail. Without it a missing end cannot be
seen. A copy elsewhere has none: that is said, and is no error.""",
    "T-ARCHIVE": """Knowledge kept in the archive is not as it was kept.

Files of it are missing or were changed, so that an old answer cannot be explained by it. Bring it back from a copy.""",
    "T-CASE": """A case name cannot be used, or a file holds another case.

Names are generated words and a number, like oak-heron-17: never a person's name, never a date.""",
    "T-CHAIN": """A line does not follow the one before it.

Each line holds the hash of the line before. A line was removed, inserted, moved or written anew here. Compare with a
copy; nothing is written on.""",
    "T-CLINIC": """The clinic's knowledge in use cannot be used as published.

Mend it, publish again, or work without it for once: --without-clinic, which is recorded and shown.""",
    "T-CLOCK": """The clock went back between two lines.

The order is kept by number. Weeks since an injury or an operation count as not known until they are said again.""",
    "T-CONFIG": """Sharing cannot be set up.

`config share GROUP` takes a group of this system of which you are a member, and files that are yours.""",
    "T-EMPTY": """A trail holds nothing.

Nothing was recorded in it, or all of it went. Its anchor tells which.""",
    "T-END": """The end of a trail is missing, or is another one.

More lines were recorded than can be read, or the last one is not the line that was recorded there. Bring the file back
from a copy; do not write on. If a sync kept two files: reasoner trail join CASE.""",
    "T-ENDED": """A case is not open for work: it was sealed or erased.

A sealed case is encrypted and comes back with its key: reasoner trail unseal CASE. Of an erased one only a note stays,
with when and by whom, and its name is not used again.""",
    "T-ENDINGS": """Two files begin as one case and end differently.

Two machines wrote at once and a sync kept both. Both stay. `reasoner trail join CASE` shows both endings; people who
were there choose which one is gone on with.""",
    "T-ERASE": """A case was not erased.

It cannot be undone, so that a copy is offered first and the name of the case has to be typed again. Local rules on how
long health records are kept come first.""",
    "T-EVENT": """A line holds an event, or a field, that this version does not know.

It was written by a newer version, or changed. Update the tool; lines are never rewritten.""",
    "T-EXPORT": """Only a de-identified trail is exported.

Days instead of dates, no free text, no codes, no case name: --deidentified. With everything in it, to move house or to
keep: reasoner pack FILE --case CASE.""",
    "T-FILE": """A file or folder cannot be read or written.

The message says why: not there, no permission, disk full, read-only. Nothing of the last step was recorded.""",
    "T-HELD": """Somebody has this case open.

The message says who, since when and where. Wait for them (--wait SECONDS), look only (--read-only), or take it over on
purpose (--take-over): then they are refused at their next line and told by whom.""",
    "T-HOME": """No folder for cases is known.

The account has no home folder. Set REASONER_HOME to a folder of your own.""",
    "T-JOIN": """There are not two endings to look at.

A copy lies beside the trail, begins as it does, and holds lines it does not. If there are several, name one.""",
    "T-KEY": """A key cannot be used.

Keys lie apart from the cases, in the folder that `reasoner where` prints, and are never packed. Bring it back from a
copy; without an age key what was encrypted for it stays unreadable.""",
    "T-KIND": """A trail is real, demo or practice from its first line, and there is one first line.

It never changes its kind, so that an invented case cannot pass for a patient.""",
    "T-LINE": """A line cannot be read, or cannot be written.

Every line ends in the hash of its own bytes: one changed byte shows. The lines after it are still read.""",
    "T-LOCK": """The trail is being written by another program.

An append takes milliseconds, so this one hangs, or runs on another machine on a disk without locks.""",
    "T-MODE": """Others on this machine can read a trail.

The tool writes readable by you alone, or by a group that you named. A copy brought back may be more open: reasoner
config private sets it right.""",
    "T-MOVED": """The case went on elsewhere while it was open here.

Nothing of the last step was recorded. Look at what came, then do it again.""",
    "T-PACK": """A pack cannot be made or taken.

It holds ordinary files with names inside the state folder, each with its hash: anything else is refused, and nothing is
unpacked. A file that is here already and differs stops all of it.""",
    "T-SIGN": """What the signature of a trail says.

It covers the end as it was signed, by whom and when, and needs the signer's key to be checked. One that does not fit
means that the trail, its anchor or the signature was made anew.""",
    "T-TAKEN": """The case was taken over by somebody else.

The line was not recorded. Leave, and open it again when they are done.""",
    "T-TEXT": """The words of a line are missing, changed, or cannot be removed.

Free text lies beside the trail under a salted hash. Removed on purpose, with who, when and why, it leaves a mark and
the record verifies; in any other way it shows.""",
    "T-TORN": """The last line was broken off.

A kill or a power cut in the middle of writing: it was never acknowledged, unless the anchor says otherwise. It is moved
to a file of its own when the case is next written.""",
}
