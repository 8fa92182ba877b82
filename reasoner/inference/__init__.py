"""Beliefs in numbers: knowledge compiled to arrays, and one batched exact kernel over them.

network     causes and findings as arrays; the noisy-OR / noisy-MAX formula, written once
evidence    readings as weights over a finding's levels
order, rows, sweep, kernel, freeze     exact posteriors in batches, and what happens when that costs too much
questions, explain, responses, draws   what the batches answer
accuracy, graded, groups, strengths, leaks, compile     from published figures and words to a network
observe     from what was observed to evidence

Imports only numpy, `facts.observed`, `measures` and `graph`. Nothing is imported here, so that a command that needs
no numbers does not pay for numpy.
"""
