"""The two plans of a class II filling, read aloud as an assistant would, row by row.

Rows and their order: amalgam sequence from teaching cards (cram.com), coconote.app transcript
7fd31740, Operative Dentistry 2013 p258; matrix from knowt.com cards and an assisting course page;
composite from styleitaliano.org class II, scribd 98849783 and PMC8158842 table 4; dam, opening and
closing from assisting texts (from memory), CDC 2003 and the WHO checklist of 2009 (from memory).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from shipped_library import shipped
from sidecue.procedure.loading import placed_case
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import choose_procedure, plan

OPENING = """
O1 signed-in | O1 allergies-read | O1 patient-eyes-covered | O1 image-matched | O2 tooth-agreed
O3 bite-marked
"""
NUMBING = """
O5 topical-placed | O6 cartridge-read | O6 injected | O7 needle-covered | O7 anaesthetic-logged
O8 numb
"""
DAM = """
D1 dam-suits | D2 contacts-open | D3 clamp-tied | D4 holes-punched | D5 dam-lubricated
D6 clamp-seated | D7 dam-anchored | D8 dam-framed | D9 septa-through | D10 dam-secured
D11 dam-sealed | D12 field-isolated
"""
DAM_OFF = """
X1 field-washed | X2 cord-free | X3 septa-cut | X4 clamp-off | X5 dam-off | X6 isolation-counted
"""
CLOSING = """
Z1 counts-agreed | Z3 read-out | Z4 record-saved | Z5 advice-given | Z5 dismissed | Z6 sharps-away
Z6 lines-flushed | Z6 room-ready
"""
AMALGAM = f"""
{OPENING} A1 amalgam-permitted {NUMBING} {DAM}
A3 neighbour-guarded | A3 outline-done | A4 caries-removed | A5 walls-refined | A3 guard-out
A6 cavity-clean
A7 base-placed | A7 shields-up | A7 base-hard | A8 varnish-painted | A8 walls-sealed
A9 band-loaded | A10 band-seated | A11 wedge-seated | A11 contact-formed | A11 matrix-sealed
A12 capsule-activated | A12 capsule-mixed | A13 carrier-loaded | A14 box-condensed
A15 cavity-overfilled | A16 amalgam-burnished | A17 ridge-level | A18 rough-carved
A19 retainer-off | A19 wedge-out | A19 matrix-out | A20 overhang-cleared | A21 carved
{DAM_OFF}
A23 bite-accepted | A23 sliding-accepted | A24 contact-accepted | A25 scrap-stored
{CLOSING}
"""
LAYER = "layer-placed | {0} shields-up | {0} resin-cured"
COMPOSITE = f"""
{OPENING} O4 shade-recorded {NUMBING} {DAM}
R2 neighbour-guarded | R2 outline-done | R2 caries-removed | R2 walls-refined | R2 bevelled
R2 guard-out | R3 cavity-clean | R4 matrix-placed | R4 wedge-seated | R4 ring-on | R4 contact-formed
R4 matrix-sealed | R5 enamel-etched | R5 dentine-etched | R6 etch-rinsed | R7 surface-ready
R8 adhesive-soaked | R9 adhesive-thinned | R10 shields-up | R10 adhesive-cured
R11 {LAYER.format("R11")} | R12 {LAYER.format("R12")} | R12 {LAYER.format("R12")}
R13 {LAYER.format("R13")} | R13 {LAYER.format("R13")}
R14 ring-off | R14 wedge-out | R14 matrix-out
R15 shields-up | R15 buccal-cured | R15 shields-up | R15 sides-cured | R16 flash-trimmed
{DAM_OFF}
R18 bite-accepted | R18 sliding-accepted | R19 polished | R20 contact-accepted
{CLOSING}
"""


def rows(text: str) -> list[tuple[str, str]]:
    words = text.replace("|", " ").split()
    return list(zip(words[::2], words[1::2], strict=True))


def planned(case: str, **practice: object) -> Plan:
    library = shipped()
    office = replace(library.practices["example"], **practice)  # type: ignore[arg-type]
    read = placed_case(library.cases[case], office.notation)
    return plan(library, choose_procedure(library, read, office), read, office, date(2026, 3, 31))


@pytest.mark.parametrize(
    ("case", "sequence"), [("amalgam-14-do", AMALGAM), ("composite-46-mo", COMPOSITE)]
)
def test_every_row_is_there_once_in_order_and_nothing_else(case: str, sequence: str) -> None:
    steps = planned(case).steps
    expected = rows(sequence)
    for number, (step, (row, fact)) in enumerate(zip(steps, expected, strict=False)):
        assert fact in (*step.begin_establishes, *step.establishes), (number, row, step.id)
    assert len(steps) == len(expected)


def test_the_guard_wedge_is_told_to_come_out_before_the_matrix_goes_in() -> None:
    # Rows A3 and R2 (pre-wedge), A11 and R4 (the matrix's own wedge): common practice, no source.
    for case in ("composite-46-mo", "amalgam-14-do"):
        steps = planned(case).steps
        said = {step.id: step.say for step in steps}
        assert said["guard-neighbour"] == "Wedge ahead to guard the neighbour."
        assert said["take-guard"] == "Pull any guard wedge out, then count."
        order = [step.id for step in steps]
        matrix = next(at for at, step in enumerate(steps) if "wedge-seated" in step.establishes)
        last_cut = max(order.index(cut) for cut in ("open-cavity", "remove-caries", "refine-walls"))
        assert last_cut < order.index("take-guard") < order.index("inspect-cavity") < matrix


def test_the_optional_surface_seal_comes_last_where_the_office_uses_it() -> None:
    # Row R20; three steps that the example office leaves out.
    steps = [step.id for step in planned("composite-46-mo", leave_out=()).steps]
    at = steps.index("floss-contact")
    assert steps[at : at + 4] == ["floss-contact", "brush-seal", "shield-seal", "cure-seal"]


def test_a_clinician_may_leave_the_optional_lining_out() -> None:
    # Row R11, optional.
    lining = ("place-flowable", "shield-flowable", "cure-flowable")
    without = planned("composite-46-mo", leave_out=lining)
    assert without.startable
    assert not set(lining) & {step.id for step in without.steps}


@pytest.mark.parametrize("case", sorted(shipped().cases))
def test_no_prompt_names_a_product_or_the_practice(case: str) -> None:
    library = shipped()
    names = {word for each in library.practices.values() for m in each.materials
             for word in m.product.split()[:1]}  # fmt: skip
    names |= {solution.id for each in library.practices.values() for solution in each.anaesthetics}
    names |= {each.name.split()[0] for each in library.practices.values()}
    made = planned(case)
    said = [step.say for step in made.steps] + [step.why for step in made.steps]
    said += [caution.say for caution in made.cautions] + [rule.say for rule in made.rules]
    said += [line for each in made.emergencies for line in each.says]
    said += [happening.say for happening in made.happenings]
    assert not names & {word.strip(".,;") for line in said for word in line.split()}


def test_every_emergency_ends_with_the_offices_own_protocol() -> None:
    emergencies = planned("composite-46-mo").emergencies
    assert {each.id.removeprefix("emergency.") for each in emergencies} >= {
        "object-lost", "aspirated-or-swallowed", "patient-reacts", "acid-splash", "sharps-injury",
        "pulp-exposed", "wrong-tooth",
    }  # fmt: skip
    assert {each.says[-1] for each in emergencies} == {"Follow your office protocol."}
    assert all(len(line.split()) <= 8 for each in emergencies for line in each.says)
