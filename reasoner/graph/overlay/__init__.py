"""A clinic's own folder laid over the shipped knowledge: patches, new entries, retired ones. Pure functions on values.

clinic.yaml                     {clinic: north, name: North Clinic, prefix: nc}
policy.yaml scales.yaml         patches of the shared files
<region>/<kind>/*.yaml          a patch (changes: ID), an entry to retire (retires: ID), or a new entry
"""
