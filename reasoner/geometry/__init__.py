"""Plane geometry for drawings that teach: circles through points, an axis, two arcs. No case and no knowledge."""
