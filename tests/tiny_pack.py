"""A small valid knowledge pack as text, by file name. Invented for tests: figures are common practice or made up."""

from __future__ import annotations

from pathlib import Path

__all__ = ["TINY", "write_pack"]

TINY: dict[str, str] = {
    "policy.yaml": """\
certainty_weight: {high: 1.0, moderate: 0.75, low: 0.5, very_low: 0.25}
leak_floor: {told: 0.05, seen: 0.02, tested: 0.02, measured: 0.02}
suspected_above: {fracture: 0.1}
""",
    "scales.yaml": """\
words:
  - {id: almost_always, value: 0.95, range: [0.9, 0.98]}
  - {id: usually, value: 0.8, range: [0.7, 0.9]}
  - {id: often, value: 0.6, range: [0.45, 0.75]}
  - {id: sometimes, value: 0.35, range: [0.2, 0.5]}
  - {id: seldom, value: 0.15, range: [0.08, 0.25]}
  - {id: rarely, value: 0.05, range: [0.02, 0.08]}
""",
    "ankle/region.yaml": """\
id: ankle
name: ankle
covers: {all: [{age: {at_least: 16}}, {not: loss_of_protective_sensation}]}
covers_say: This pack covers adults with feeling in the foot.
settings:
  - {id: not_stated, name: not stated}
  - {id: after_sprain, name: after a sprain, aliases: [sprain], accounts_for: [twisted_it]}
always_ask:
  - {id: walk, ask: "Could you take four steps?", findings: [cannot_take_four_steps]}
  - {id: hot, ask: "Fever, or hot and red?", findings: [fever, joint_hot_red]}
  - {id: person, ask: "Age? Feeling in the foot?", findings: [loss_of_protective_sensation], context: [age]}
positions:
  - {id: stand, name: standing}
  - {id: supine, name: lying on the back}
procedures:
  - {id: ankle_fracture_fixation, name: plate and screws}
function_sign: function_score
pain_sign: pain_at_sign
main_measure: knee_to_wall
""",
    "ankle/findings/danger.yaml": """\
- id: cannot_take_four_steps
  name: cannot take four steps
  kind: told
  ask: Can you take four steps, even limping?
  danger: true
- id: fever
  name: fever
  kind: told
  ask: Have you had a fever?
  danger: true
  sided: false
- id: joint_hot_red
  name: joint hot and red
  kind: seen
  ask: Look and feel with the back of the hand.
  danger: true
- id: loss_of_protective_sensation
  name: loss of protective sensation
  kind: tested
  ask: Touch the sole with a 10 g monofilament.
  danger: true
- id: bone_tender
  name: bone tender
  kind: tested
  ask: Press along the back edge of the bone.
  danger: true
  leak: {value: 0.1, basis: practice}
""",
    "ankle/findings/story.yaml": """\
- id: twisted_it
  name: twisted it
  kind: told
  ask: Did the foot turn in?
  holds_for: lasting
- id: front_pinch
  name: front pinch
  kind: tested
  ask: Push the knee over the toes; where is the pull or the pinch?
  aliases: [pinch at the front]
  position: stand
  provokes: true
  load_classes: [end_range_dorsiflexion]
  leak: {word: seldom, basis: practice}
- id: back_glide_less
  name: back glide less
  kind: tested
  ask: Glide the bone back and compare sides.
  position: supine
  load_classes: [light_touch]
  leak: {word: seldom, basis: practice}
- id: calf_tight
  name: calf tight
  kind: tested
  ask: Where is the pull at end range?
  leak: {word: seldom, basis: practice}
- id: calf_shorter
  name: calf shorter, knee straight
  kind: tested
  ask: Compare both sides with the knee straight.
  leak: {word: seldom, basis: practice}
- id: on_painkillers
  name: on painkillers
  kind: told
  ask: Have you taken painkillers today?
  sided: false
- id: previous_sprains
  name: previous sprains
  kind: told
  ask: Have you sprained it before?
  holds_for: lasting
- id: knee_to_wall_deficit
  name: knee to wall deficit
  kind: measured
  position: stand
  measured:
    measure: knee_to_wall
    of: side_difference
    cuts: [1.5, 4.0]
    reference: {mean: 2.5, sd: 3.0, basis: practice}
    healthy: {mean: 0.0, sd: 1.0, basis: practice}
  leak: {value: 0.05, basis: practice}
""",
    "ankle/groups/calf.yaml": """\
id: short_calf_signs
name: signs of a short calf
reference: short_calf
members:
  - finding: calf_tight
    when_present: {word: usually, basis: practice}
    when_absent: {word: seldom, basis: practice}
    basis: practice
  - {finding: calf_shorter, sens: 0.8, spec: 0.7, basis: published, evidence: [a-study]}
""",
    "ankle/maskings/painkillers.yaml": """\
id: painkillers
when: on_painkillers
hides: [front_pinch]
mu: {word: sometimes, basis: practice}
""",
    "ankle/hypotheses/talus_back_glide.yaml": """\
id: talus_back_glide
name: talus does not glide back
list: restriction
base_rate:
  not_stated: {value: 0.2, basis: practice}
  after_sprain: {word: often, basis: practice}
modifiers:
  - {fact: previous_sprains, odds_ratio: 1.5, basis: practice}
produces:
  - {finding: front_pinch, chance: sometimes, basis: practice}
  - {finding: back_glide_less, chance: usually, basis: practice}
  - {finding: knee_to_wall_deficit, levels: [usually, sometimes], basis: practice}
""",
    "ankle/hypotheses/short_calf.yaml": """\
id: short_calf
name: short calf
list: restriction
base_rate:
  not_stated: {value: 0.25, basis: published, evidence: [a-study]}
produces:
  - {finding: knee_to_wall_deficit, mean: 3.0, sd: 2.0, basis: practice}
""",
    "ankle/hypotheses/fracture.yaml": """\
id: fracture
name: fracture
list: serious
base_rate:
  not_stated: {value: 0.02, basis: practice}
  after_sprain: {value: 0.15, basis: published, evidence: [a-study]}
produces:
  - {finding: bone_tender, sens: 0.95, spec: 0.4, basis: published, evidence: [a-study], study_setting: after_sprain}
establish: a film
act_above: 0.01
screens: [fracture_rule]
next_step: a film
""",
    "ankle/measures/range.yaml": """\
- id: knee_to_wall
  name: knee to wall
  unit: cm
  possible: [-25, 25]
  better: higher
  aliases: [ktw]
  how: Great toe to the wall, knee just touching, heel down.
  position: stand
  trials: 3
  settle_within: 0.5
  recheck_jump: 4
  tools:
    - {id: tape, name: tape measure}
    - {id: finger_widths, name: finger widths, per_unit: 1.7}
  errors:
    - {tool: tape, interval: within_visit, sem: 0.6, mdc95: 1.7, basis: practice}
  drift: {mean: 0.4, sd: 0.6, basis: practice}
  load_classes: [end_range_dorsiflexion]
""",
    "ankle/measures/scores.yaml": """\
- id: pain_at_sign
  name: pain at the sign
  unit: of 10
  possible: [0, 10]
  better: lower
  kind: pain
  tools:
    - {id: rating, name: number said}
- id: function_score
  name: function
  unit: of 10
  possible: [0, 10]
  better: higher
  kind: function
  tools:
    - {id: rating, name: number said}
""",
    "ankle/options/explanation.yaml": """\
id: explanation
name: explanation
lane: due
load_classes: [education]
""",
    "ankle/options/back_glide.yaml": """\
id: back_glide
name: glide the talus back
lane: try_now
load_classes: [posterior_talar_glide]
acts_on: [talus_back_glide]
position: supine
dose: {text: 3 x 60 s, basis: practice}
retest: [knee_to_wall]
effects:
  - {sign: knee_to_wall, gain: 1.5, sd: 1.5, certainty: low, basis: practice}
cautions:
  - {when: on_painkillers, say: Pain is masked., basis: practice}
""",
    "ankle/options/calf_stretch.yaml": """\
id: calf_stretch
name: calf stretch
lane: try_now
load_classes: [gentle_calf_stretch]
acts_on: [short_calf]
retest: [knee_to_wall]
effects:
  - {sign: knee_to_wall, p1: often, p0: sometimes, certainty: very_low, basis: practice}
""",
    "ankle/options/send_for_film.yaml": """\
id: send_for_film
name: send for a film
lane: ask_or_send
for_screens: [fracture_rule]
""",
    "ankle/load_classes/all.yaml": """\
- {id: education, name: talking, needs_hands: nothing, needs_screening: false}
- {id: light_touch, name: light touch, needs_hands: active_pain_free, hands_on: true}
- id: end_range_dorsiflexion
  name: end range
  needs_hands: unrestricted
  bars:
    - {when: {weeks_since: surgery, below: 6}, say: The repair is not healed., basis: practice}
- {id: gentle_calf_stretch, name: gentle calf stretch, needs_hands: unrestricted}
- id: posterior_talar_glide
  name: glide of the talus
  needs_hands: unrestricted
  hands_on: true
  bars:
    - {when: {suspected: fracture}, say: A break is in question., basis: practice}
""",
    "ankle/protocols/fixation.yaml": """\
id: fixation
name: after plate and screws
applies_when: {procedure: ankle_fracture_fixation}
windows:
  - {load_class: end_range_dorsiflexion, counted_from: surgery, earlier_weeks: 6, later_weeks: 8, basis: practice}
""",
    "ankle/screens/fracture_rule.yaml": """\
id: fracture_rule
name: fracture rule
send: same_day
hands: protect_only
use_when: {any: [{setting: after_sprain}, cannot_take_four_steps]}
valid_when: {days_since: injury, below: 10}
rule: {any: [bone_tender, cannot_take_four_steps]}
hypotheses: [fracture]
say_met: Published referral criteria met; consider a film.
next_step: Send for a film.
basis: published
evidence: [a-study]
""",
    "ankle/screens/hot_joint.yaml": """\
id: hot_joint
name: hot joint
send: emergency
hands: nothing
rule: {at_least: 2, of: [fever, joint_hot_red]}
say_met: Hot joint with fever; consider infection.
next_step: Send today.
basis: practice
""",
    "ankle/evidence/a-study.yaml": """\
id: a-study
kind: accuracy
citation: {authors: Nobody et al., year: 2000, title: An invented study}
says: An invented study for tests.
figures:
  sens: 0.95
  spec: 0.4
  prevalence: 0.15
  other: {sens: 0.8, spec: 0.7, share: 0.25}
checked: "2026-01-01"
""",
}


def write_pack(folder: Path, changes: dict[str, str | None] | None = None) -> Path:
    """Write the tiny pack with some files replaced, added, or (None) left out; the knowledge folder."""
    for name, text in {**TINY, **(changes or {})}.items():
        if text is not None:
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
    return folder
