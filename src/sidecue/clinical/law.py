"""The law on dental amalgam by place, date and patient.

Sources: Regulation (EU) 2017/852 art. 10 as amended by (EU) 2024/1849; Commission notice
C/2024/4675 for Northern Ireland (end date from memory); US FDA recommendations of 24 September
2020; Minamata COP-4 (2022) and COP-6 (2025). A table is not legal advice: local rules come first.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from sidecue.clinical import sources
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, note
from sidecue.clinical.quantity import Number, not_negative


class Jurisdiction(StrEnum):
    """Where the patient is treated."""

    EU = "eu"
    NORTHERN_IRELAND = "northern-ireland"
    US = "us"
    OTHER = "other"


class Verdict(StrEnum):
    """What the law says about amalgam here and now."""

    PERMITTED = "permitted"
    STRICTLY_NECESSARY = "only if strictly necessary"
    DEROGATION = "derogation"
    NOT = "not permitted"
    WARN = "warn"


@dataclass(frozen=True, slots=True)
class Patient:
    """What the rules ask about a patient. `age_years` None means nobody said."""

    age_years: Number | None = None
    primary_tooth: bool = False
    pregnant: bool = False  # or planning to be, for the US recommendations
    breastfeeding: bool = False
    kidney: bool = False
    neurological: bool = False
    metal_allergy: bool = False


@dataclass(frozen=True, slots=True)
class Ruling:
    """A verdict with its reason and source; `questions` ask for what it rests on but lacks."""

    verdict: Verdict
    text: str
    source: str
    questions: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


EU_PROTECTED_FROM = date(2018, 7, 1)  # primary teeth, under 15, pregnant or breastfeeding
EU_CAPSULES_FROM = date(2019, 1, 1)  # pre-dosed capsules only; separators
EU_SEPARATORS_95_FROM = date(2021, 1, 1)  # every separator keeps at least 95 %
EU_AMENDMENT_IN_FORCE = date(2024, 7, 30)
EU_EXPORT_BAN_FROM = date(2025, 1, 1)
EU_PHASE_OUT_FROM = date(2025, 1, 1)
EU_DEROGATION_LAST = date(2026, 6, 30)  # where amalgam alone is reimbursed at 90 % or more
EU_SUPPLY_BAN_FROM = date(2026, 7, 1)  # manufacture and import
NI_END = date(2034, 12, 31)  # from memory: check
FDA_FROM = date(2020, 9, 24)
MINAMATA_COP4 = date(2022, 3, 25)
MINAMATA_END = date(2034, 12, 31)

AGE_PROTECTED = 15
AGE_FDA_ESPECIALLY = 6
AGE_FDA_CHILD = 18


def amalgam_ruling(
    place: Jurisdiction, on: date, patient: Patient, *, derogation_state: bool = False
) -> Ruling:
    """Return the ruling on placing amalgam in `patient` at `place` on the day `on`.

    `derogation_state` marks an EU state where amalgam is the only publicly reimbursed (90 % or
    more) material.
    """
    if patient.age_years is not None:
        not_negative(patient.age_years, "age (years)")
    if place is Jurisdiction.EU:
        ruling = _eu(on, patient, derogation_state)
    elif place is Jurisdiction.NORTHERN_IRELAND:
        ruling = _northern_ireland(on, patient)
    elif place is Jurisdiction.US:
        ruling = _us(on, patient)
    else:
        ruling = _elsewhere(on, patient)
    if on > MINAMATA_END:
        after = note("past the agreed phase-out: end of 2034", sources.MINAMATA_COP6)
        return Ruling(ruling.verdict, ruling.text, ruling.source, ruling.questions,
                      (*ruling.findings, after))  # fmt: skip
    return ruling


def _protected(patient: Patient) -> str | None:
    """Return why the EU and Minamata protect this patient, or None."""
    if patient.primary_tooth:
        return "primary tooth"
    if patient.age_years is not None and not_negative(patient.age_years, "age") < AGE_PROTECTED:
        return "under 15 years"
    if patient.pregnant or patient.breastfeeding:
        return "pregnant or breastfeeding"
    return None


def _age_question(patient: Patient) -> tuple[str, ...]:
    return () if patient.age_years is not None else ("Is the patient under 15?",)


def _eu(on: date, patient: Patient, derogation_state: bool) -> Ruling:
    if on < EU_PROTECTED_FROM:
        return Ruling(Verdict.PERMITTED, "before the EU restrictions", sources.EU_2017_852)
    reason = _protected(patient)
    if reason is not None:
        return Ruling(
            Verdict.STRICTLY_NECESSARY,
            f"{reason}: only if the practitioner deems it strictly necessary",
            sources.EU_2017_852,
        )
    if on < EU_PHASE_OUT_FROM:
        return _unprotected(patient, Verdict.PERMITTED, "permitted in capsules until end of 2024",
                            sources.EU_2017_852)  # fmt: skip
    if derogation_state and on <= EU_DEROGATION_LAST:
        return _unprotected(patient, Verdict.DEROGATION, "state derogation until 30 June 2026",
                            sources.EU_2024_1849)  # fmt: skip
    return Ruling(
        Verdict.STRICTLY_NECESSARY,
        "only if strictly necessary for the patient's specific medical needs",
        sources.EU_2024_1849,
    )


def _unprotected(patient: Patient, verdict: Verdict, text: str, source: str) -> Ruling:
    """Return the ruling for an adult; a warning with a question while the age is unknown."""
    questions = _age_question(patient)
    if questions:
        return Ruling(Verdict.WARN, f"age not given; otherwise {text}", source, questions)
    return Ruling(verdict, text, source)


def _northern_ireland(on: date, patient: Patient) -> Ruling:
    if on < EU_PHASE_OUT_FROM:
        return _eu(on, patient, derogation_state=False)
    if on > NI_END:
        return Ruling(Verdict.NOT, "after 31 December 2034: check", sources.NI_NOTICE)
    reason = _protected(patient)
    if reason is not None:
        return Ruling(
            Verdict.STRICTLY_NECESSARY,
            f"{reason}: only if the practitioner deems it strictly necessary",
            sources.EU_2017_852,
        )
    return _unprotected(patient, Verdict.DEROGATION,
                        "special arrangement until 31 December 2034: check",
                        sources.NI_NOTICE)  # fmt: skip


def _us(on: date, patient: Patient) -> Ruling:
    age = patient.age_years
    child = age is not None and not_negative(age, "age") < AGE_FDA_CHILD
    small = age is not None and not_negative(age, "age") < AGE_FDA_ESPECIALLY
    reasons = [
        reason
        for reason, holds in (
            ("child under 6" if small else "child", child),
            ("pregnant or planning to be", patient.pregnant),
            ("nursing", patient.breastfeeding),
            ("neurological disease", patient.neurological),
            ("impaired kidneys", patient.kidney),
            ("allergy to a component", patient.metal_allergy),
        )
        if holds
    ]
    if on < FDA_FROM or not reasons:
        return Ruling(Verdict.PERMITTED, "no federal restriction on placing it", sources.FDA_2020)
    return Ruling(
        Verdict.WARN,
        f"{', '.join(reasons)}: avoid amalgam when possible",
        sources.FDA_2020,
    )


def _elsewhere(on: date, patient: Patient) -> Ruling:
    if on > MINAMATA_END:
        return Ruling(Verdict.WARN, "amalgam is phased out: check national law",
                      sources.MINAMATA_COP6)  # fmt: skip
    reason = _protected(patient)
    if on >= MINAMATA_COP4 and reason is not None:
        return Ruling(
            Verdict.WARN,
            f"{reason}: avoid unless the practitioner considers it necessary; check national law",
            sources.MINAMATA_COP4,
        )
    return Ruling(Verdict.PERMITTED, "no rule in these tables: check national law",
                  sources.MINAMATA_COP4)  # fmt: skip


class Activity(StrEnum):
    """Trade in amalgam, as the EU regulates it."""

    EXPORT = "export"
    IMPORT = "import"
    MANUFACTURE = "manufacture"


def eu_supply_verdict(activity: Activity, on: date) -> Verdict:
    """Return whether export, import or manufacture is allowed in the EU on a day.

    From 1 July 2026 only supply for specific medical needs remains, as a derogation not modelled.
    """
    start = EU_EXPORT_BAN_FROM if activity is Activity.EXPORT else EU_SUPPLY_BAN_FROM
    return Verdict.NOT if on >= start else Verdict.PERMITTED


def eu_form_verdict(form: str, on: date) -> Verdict:
    """Return whether a mercury `form` (`capsules` or `bulk`) may be used in the EU on a day."""
    if form not in {"capsules", "bulk"}:
        raise ClinicalError(f"mercury form {form!r}", "not a known form", "capsules or bulk")
    return Verdict.NOT if form == "bulk" and on >= EU_CAPSULES_FROM else Verdict.PERMITTED
