"""A case as an HL7 FHIR R4B document Bundle, built as plain data, checked by rules of our own, and read back."""
