"""A small, sound library in an invented office, written out so that tests can damage it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from sidecue.procedure.case import Case, case_of
from sidecue.procedure.library import Library
from sidecue.procedure.loading import load_library
from sidecue.procedure.schema import CaseFile

FILES: dict[str, str] = {
    "instruments.yaml": """\
instruments:
  - {instrument: etch-syringe, name: etching syringe, spoken: etch syringe, use: Etches.,
     family: restorative, reprocessing: barrier}
  - {instrument: suction, name: high-volume suction, spoken: suction, use: Draws fluid.,
     family: isolation, passing: placed, reprocessing: heat-sterilise}
  - {instrument: light, name: curing light, spoken: light, use: Cures.,
     family: light, reprocessing: barrier}
  - {instrument: spare-light, name: second curing light, spoken: other light, use: Cures.,
     family: light, reprocessing: barrier}
""",
    "cautions.yaml": """\
cautions:
  - {caution: acid-splash, say: Keep suction beside the acid., text: Acid burns eyes.,
     source: "common practice, no source"}
""",
    "rules.yaml": """\
facts:
  - {fact: shade-recorded, text: shade recorded}
  - {fact: etched, text: enamel etched, physical: true}
  - {fact: rinsed, text: etch rinsed off, physical: true}
  - {fact: layer-placed, text: layer placed, physical: true}
  - {fact: cured, text: resin cured, physical: true}
  - {fact: polished, text: filling polished, physical: true}
rules:
  - {rule: shade-first, say: First record the shade., act: etched, needs: [shade-recorded],
     source: "common practice, no source"}
  - {rule: no-soft-polish, say: First cure the layer., never: [layer-placed, polished],
     source: "common practice, no source"}
""",
    "cues.yaml": """\
address: okay tray
cues:
  - {cue: repeat, phrases: [say that again], tier: free, means: Says it again.}
  - {cue: pause, phrases: [pause procedure], tier: stop, means: Stops the prompts.}
skip-reasons:
  - {cue: not-needed, phrases: [not needed here], tier: guarded, means: Not needed.}
decoys: [rinse your mouth]
pronunciations: {dentine: D EH N T IY N}
""",
    "prompts.yaml": 'prompts:\n  paused: "Paused. Timers go on."\n',
    "emergencies.yaml": """\
emergencies:
  - emergency: acid-in-eye
    heard: [acid in the eye]
    means: Acid reached an eye.
    says: [Rinse the eye with water., Follow your office protocol.]
    source: "common practice, no source"
""",
    "advice.yaml": """\
advice:
  - {say: You may chew on it now., source: "common practice, no source", after: [cured],
     when: {material: [composite]}}
  - {say: Watch that your child does not bite the lip., source: "common practice, no source",
     when: {age-group: [child]}}
""",
    "compatibility.yaml": """\
clashes:
  - clash: resin-allergy
    when: {material: [composite], flags: [resin]}
    verdict: block
    say: This patient is allergic to resin.
    source: common practice, no source
  - clash: rolls
    when: {isolation: [rolls]}
    verdict: warn
    say: A dam keeps the field drier.
    source: common practice, no source
""",
    "practices/office.yaml": """\
practice: Larchwood Dental Room
notation: iso
jurisdiction: other
adhesive: total-etch
light: {product: Glimmer lamp, irradiance: 600}
materials:
  - {role: etchant, product: Tarn Etch, kind: phosphoric-acid,
     times: {enamel: 15 s, enamel-most: 30 s, rinse: 15 s}}
  - {role: composite, product: Heather Fill, kind: universal, times: {cure: 20 s},
     numbers: {increment-mm: 2, target-joules-per-cm2: 16}}
""",
    "cases/molar.yaml": """\
tooth: 46
surfaces: MO
material: composite
isolation: dam
depth-mm: 3
""",
    "parts/bonding.yaml": """\
procedure: bonding
title: Etch and rinse
steps:
  - step: etch
    say: Etch tooth {tooth_digits}.
    why: Etched enamel holds the adhesive.
    hand: [etch-syringe, {use: suction, when: {isolation: [rolls]}}]
    caution: [acid-splash]
    needs: [shade-recorded]
    cue: [etch is on]
    establishes: [etched]
    timers:
      - timer: etching
        kind: window
        least: etchant.enamel
        most: etchant.enamel-most
        source: etchant IFU
        overdue: {say: Rinse now.}
    when: {adhesive: [total-etch, selective-etch]}
  - step: rinse
    say: Rinse as long as you etched.
    why: Acid left behind blocks the adhesive.
    needs: [etched]
    stops: [etching]
    begin: {cue: [water on]}
    cue: [water off]
    establishes: [rinsed]
    timers:
      - {timer: rinsing, kind: hard-minimum, least: etchant.rinse, no-less-than: etching}
    when: {adhesive: [total-etch, selective-etch]}
  - step: admire
    say: Show the frosty enamel.
    why: A second look costs nothing.
    cue: [frost is seen]
    optional: true
happenings:
  - happening: saliva
    heard: [saliva got in]
    say: Etch again.
    means: Saliva reached the etched surface.
    voids: [etched, rinsed]
    back-to: etch
    while-any: [etched]
    unless: [cured]
""",
    "procedures/filling.yaml": """\
procedure: filling
title: Small composite filling
fits: {material: [composite], class: [I, II]}
steps:
  - step: shade
    say: Choose shade for {surfaces}.
    why: Dry teeth look lighter.
    cue: [shade is noted]
    establishes: [shade-recorded]
  - include: bonding
  - repeat: increments
    steps:
      - step: layer-{n}
        say: "Place layer {n_word} of {of}."
        why: Thin layers cure through.
        cue: ["layer {n_word} is in"]
        establishes: [layer-placed]
        voids: [cured]
      - step: cure-{n}
        say: "Cure layer {n_word}."
        why: Each layer needs its own light.
        hand: [light]
        needs: [layer-placed]
        begin: {cue: [light on]}
        cue: [light off]
        establishes: [cured]
        voids: [layer-placed]
        timers:
          - {timer: cure, kind: hard-minimum, least: computed.cure}
  - step: polish
    say: Polish the filling.
    why: A smooth surface stays clean.
    needs: [cured]
    cue: [polish finished]
    establishes: [polished]
""",
}


def write(folder: Path, files: Mapping[str, str] = FILES) -> Path:
    """Write the files into `folder` and return it."""
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def changed(name: str, old: str, new: str) -> dict[str, str]:
    """Return the files with one passage replaced; it must be there."""
    assert old in FILES[name], f"{old!r} is not in {name}"
    return {**FILES, name: FILES[name].replace(old, new, 1)}


def library(folder: Path, files: Mapping[str, str] = FILES) -> Library:
    """Write and load the small library."""
    return load_library(write(folder, files))


def case(**entries: object) -> Case:
    """Return the small library's case with some entries changed (underscores for hyphens)."""
    entry = {"tooth": "46", "surfaces": "MO", "material": "composite", "isolation": "dam",
             "depth-mm": 3}  # fmt: skip
    entry |= {key.replace("_", "-"): value for key, value in entries.items()}
    return case_of(CaseFile.model_validate(entry), "iso")
