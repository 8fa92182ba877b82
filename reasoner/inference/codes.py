"""Problems that show only when the figures are worked out together: code -> reference text."""

from __future__ import annotations

__all__ = ["CODES"]

CODES: dict[str, str] = {
    "N-CANNOT-HOLD": """These accuracies cannot all hold.

The published specificity of a test leaves less room than the other causes linked to the same finding already take in
the study's setting: the leak would be below 0. Either shrink the unpublished links to it by the factor named (and say
so under derived:), or mark this link sensitivity_only: true (its strength then comes from LR-, and the finding's
stated leak is used).""",
    "N-LEAK-RAISED": """A leak below the floor was raised to it.

Too small leaks are the dangerous error: one odd answer would then prove a rare disease. The floors are in policy.yaml
(told findings higher than tested ones); a higher published specificity lowers the floor for its finding.""",
    "N-LEAK-MISSING": """A finding that hypotheses are linked to states no leak.

The leak is the chance of the finding in somebody with none of the modelled causes. State a word or a figure with its
basis, or a published specificity on one of its links.""",
    "N-ZERO-ONE": """A figure of 0 or 1 was taken as almost 0 or almost 1.

Nothing is certain: 0 of 20 is not never. With counts write (k + .5)/(n + 1); without them the policy's
stand-in is used.""",
    "N-LEVELS": """Levels of a measured finding do not fit.

With several cuts a finding needs one chance a cut (levels), or mean and sd, from which they are worked out; a plain
chance or an accuracy fits only a single cut. What is worked out must not rise from mild to severe: it does when people
with the cause vary less than healthy ones, so that a mild reading speaks for it and a severe one against.""",
    "N-SPREAD": """A published standard deviation is hardly more than the error of measuring.

The spread of true values cannot be told from it; half of the published SD is used.""",
    "N-GROUP-LINK": """A hypothesis is linked to a test that belongs to a group.

Tests in a group count once, through the group. Link the hypothesis to the group's id instead.""",
    "N-GROUP-REFERENCE": """A group's reference hypothesis states its own link, or cannot be linked.

Its link is worked out from the members' best published sensitivity and specificity; one that states anything else is
not used. Without any published accuracy the reference hypothesis must state its link to the group.""",
    "N-NO-AGREEMENT": """A hand-felt sign on which examiners do not agree carries no weight.

The lower end of its published agreement (kappa) is 0 or below, so its links are dropped.""",
    "N-RISK-RATIO": """A risk ratio is used as an odds ratio.

Base rates are moved in odds. A published risk ratio is converted at the base rate of each setting.""",
}
