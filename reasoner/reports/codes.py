"""Problems with documents that leave, and with bundles: code -> reference text."""

from __future__ import annotations

__all__ = ["REPORT_CODES"]

REPORT_CODES: dict[str, str] = {
    "R-PRIVACY": """Free text looks as if it named somebody.

A mail address, a telephone or record number, a birth date, a title with a name, or "his wife Anna": such text does not
leave. Take it out (reasoner trail), or read all free text and say so with --free-text-read. The look finds common forms
and misses others.""",
    "R-LANGUAGE": """A home sheet cannot be made in this language as asked.

Either the pack has no wording in it, or the wording is a draft that no clinician has reviewed; that one is given with
--not-reviewed only and is marked on the sheet.""",
    "R-LETTERHEAD": """The clinic's letterhead folder cannot be used.

letterhead.toml holds name, phone, emergency_number, address and paper (A4 or Letter), each one line of text, all
optional. Telephone numbers come from there and from nowhere else.""",
    "R-TEMPLATE": """A clinic's own template cannot be used.

A template sees one variable, doc, and can read it only. What it does not know, a mistake in it, a reach outside the
document, or work without end is refused, and no document is made. Take it out of the folder and the shipped one is
used.""",
    "R-OUT": """A document is not written over another.

What was handed out stays as it was: choose another file name.""",
    "H-DOCUMENT": """A bundle is not a FHIR document.

A document Bundle of R4B has type document, an identifier, a timestamp not before the Composition's date, the
Composition first and once, a Patient, and a urn:uuid of its own for every entry (hl7.org/fhir/R4B/documents.html;
bdl-7, bdl-9 to bdl-11).""",
    "H-ELEMENT": """A resource lacks what it needs, or holds what excludes each other.

Elements that R4B or this document needs: an Observation has a value or says why not, never both (obs-6); a section has
text or entries (cmp-1); a kind of resource that is not part of this document does not stand in it.""",
    "H-CODE": """A code is not of its set.

Statuses, intents, priorities and the like come from sets that R4B binds as required; other codes from the systems named
in codes.py. A reader of shapes lets a bogus one through.""",
    "H-UNIT": """A quantity has no number or no UCUM code.

Every number carries its unit as a UCUM code (unitsofmeasure.org), so that a program cannot take centimetres for
degrees.""",
    "H-VALUE": """A value is empty or not of its kind.

An id of letters, digits, point and dash; a time with its offset, or a date; a narrative that is one XHTML div without
scripts; nothing empty.""",
    "H-REFERENCE": """A reference leads nowhere, to the wrong kind, or an entry is not reached.

All of a document hangs together: every reference leads to an entry of the right kind, every entry is reached from the
Composition, or points at it as a Provenance does.""",
    "H-FOREIGN": """A bundle of another tool is not read back.

Only what this tool wrote is turned into a snapshot again; nothing is guessed from others' codes.""",
    "H-KNOWLEDGE": """A bundle names a finding or measure that the loaded knowledge does not have.

Read it with the knowledge it was made with; its digest stands in the Provenance.""",
}
