"""What clinical rules, the law and the compatibility table say about a case in a practice.

The tool tells and asks; the licensed clinician decides. Only a refusal blocks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from sidecue.clinical import liners
from sidecue.clinical.cavity import CavityClass
from sidecue.clinical.dose_limits import RuleSet, age_findings
from sidecue.clinical.eruption import mixed_findings
from sidecue.clinical.etching import bleaching_findings, primary_findings
from sidecue.clinical.finding import Finding, Severity
from sidecue.clinical.isolation import breathing_findings, check_clamp
from sidecue.clinical.law import Jurisdiction, Patient, Ruling, Verdict, amalgam_ruling
from sidecue.clinical.liners import Layer
from sidecue.clinical.materials import Material
from sidecue.clinical.matrix import neighbour_findings
from sidecue.procedure.case import Case
from sidecue.procedure.expansion import applies
from sidecue.procedure.interlocks import CaseFacts
from sidecue.procedure.library_schema import (
    ClashEntry,
)
from sidecue.procedure.plan import Notice, Question
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import (
    CaseFile,
)

_LINER_LAYERS = {
    "none": (),
    "calcium-hydroxide": (Layer.CALCIUM_HYDROXIDE,),
    "calcium-hydroxide-covered": (Layer.CALCIUM_HYDROXIDE, Layer.RESIN_GLASS_IONOMER),
    "glass-ionomer": (Layer.BASE,),
}
_SEALER_LAYERS = {
    "none": (),
    "varnish": (Layer.VARNISH,),
    "resin-sealer": (Layer.SEALER,),
}  # fmt: skip


@dataclass
class Appraisal:
    """Reasons to refuse, cautions and open questions, each with who says so."""

    blocks: list[Notice] = field(default_factory=list)
    warnings: list[Notice] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)

    def block(self, notice: Notice) -> None:
        """Add a refusal, once."""
        if notice not in self.blocks:
            self.blocks.append(notice)

    def take(self, findings: Iterable[Finding]) -> None:
        """Add findings: refusals block, everything else is a warning."""
        for finding in findings:
            notice = Notice(finding.text, finding.source)
            target = self.blocks if finding.severity is Severity.BLOCK else self.warnings
            if notice not in target:
                target.append(notice)


def appraise(
    case: Case, practice: Practice, case_facts: CaseFacts, clashes: Iterable[ClashEntry]
) -> Appraisal:
    """Return everything that must be told or asked about this case."""
    found = Appraisal(questions=list(case.questions))
    entry = case.entry
    bonded = case.material.sets_as_resin and entry.visit == "placing"
    if case.tooth is not None and case.cavity is not None and case.matrix is not None:
        found.take((*case.cavity.queries, *case.matrix.findings))
        if entry.visit == "placing":
            found.take(neighbour_findings(case.cavity, case.missing))
        if bonded:
            found.take(primary_findings(primary=case.tooth.primary))
    if bonded:
        found.take(bleaching_findings(bleached="bleached" in entry.flags))
    if entry.isolation == "dam" and entry.visit == "placing":  # polishing goes on cotton rolls
        flags = entry.flags
        found.take(
            breathing_findings(mouth_breather="mouth-breather" in flags, asthma="asthma" in flags)
        )
        _clamp(case, found)
    if entry.visit == "placing":  # liners, drugs and the law are about what is placed today
        if case.drug is not None:
            found.take(age_findings(case.drug, entry.age_years, RuleSet(practice.dose_rules)))
        _liner(case, found)
        if case.material is Material.AMALGAM:
            _law(case, practice, found)
    for clash in clashes:
        if applies(clash.when, clash.unless, case_facts):
            target = found.blocks if clash.verdict == "block" else found.warnings
            target.append(Notice(clash.say, clash.source))
    return found


def _clamp(case: Case, found: Appraisal) -> None:
    """Tell what the mouth and the chosen clamp make doubtful about the dam."""
    if case.dam is None:
        return
    found.take(mixed_findings(case.entry.age_years))
    if case.entry.clamp is not None:
        five = case.cavity is not None and case.cavity.cavity_class is CavityClass.FIVE
        found.take(check_clamp(case.entry.clamp, case.dam.anchor, class_five=five))


def layers_of(entry: CaseFile) -> tuple[Layer, ...]:
    """Return the liners and sealers that the case names."""
    return (*_LINER_LAYERS[entry.liner or "none"], *_SEALER_LAYERS[entry.sealer or "none"])


def _liner(case: Case, found: Appraisal) -> None:
    entry = case.entry
    found.take(liners.check_layers(case.material, layers_of(entry)))
    remaining = entry.remaining_dentine_mm
    if remaining is None or case.material is Material.SEALANT:
        return
    deep = remaining <= liners.DEEP_MM
    advice = liners.suggest(case.material, remaining)
    told = deep or entry.liner not in (None, "none")  # else there is nothing to agree on
    found.take(each for each in advice.findings if told or each.severity is Severity.BLOCK)
    if entry.liner is None and deep and remaining > 0:
        found.questions.append(
            Question(
                "liner",
                f"Remaining dentine is {remaining:g} mm. Which liner does the clinician want?",
                "set `liner:` in the case (none, calcium-hydroxide, calcium-hydroxide-covered, "
                "glass-ionomer)",
            )
        )


def _law(case: Case, practice: Practice, found: Appraisal) -> None:
    ruling = ruling_of(case, practice)
    if ruling is None:
        found.questions.append(
            Question(
                "date",
                "On which day is the visit? The law on amalgam depends on it.",
                "set `date:` in the case, such as 2026-03-31",
            )
        )
    else:
        _apply(ruling, case, found)


def ruling_of(case: Case, practice: Practice) -> Ruling | None:
    """Return what the law of the place says on the day of the visit; None without a day."""
    if case.on is None:
        return None
    flags = case.entry.flags
    patient = Patient(
        age_years=case.entry.age_years,
        primary_tooth=case.tooth is not None and case.tooth.primary,
        pregnant="pregnancy" in flags,
        breastfeeding="breastfeeding" in flags,
        kidney="kidney" in flags,
        neurological="neurological" in flags,
        metal_allergy="metal" in flags,
    )
    return amalgam_ruling(
        Jurisdiction(practice.jurisdiction),
        case.on,
        patient,
        derogation_state=practice.amalgam_derogation,
    )


def _apply(ruling: Ruling, case: Case, found: Appraisal) -> None:
    notice = Notice(f"amalgam: {ruling.text}", ruling.source)
    necessary = case.entry.strictly_necessary
    if ruling.verdict is Verdict.NOT:
        found.block(notice)
    elif ruling.verdict is Verdict.STRICTLY_NECESSARY and necessary is None:
        found.questions.append(
            Question(
                "strictly-necessary",
                f"Amalgam: {ruling.text}. Does the practitioner deem it strictly necessary?",
                "set `strictly-necessary: true` or `false` in the case",
            )
        )
    elif ruling.verdict is Verdict.STRICTLY_NECESSARY and not necessary:
        found.block(notice)
    elif ruling.verdict is not Verdict.PERMITTED:
        found.warnings.append(notice)
    found.questions += [
        Question(f"amalgam-law:{number}", ask, "set `age-years:` in the case")
        for number, ask in enumerate(ruling.questions)
    ]
    found.take(ruling.findings)
