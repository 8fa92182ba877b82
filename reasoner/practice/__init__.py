"""Simulated patients: a hidden truth, what they tell, what is measured on them, how it goes on."""
