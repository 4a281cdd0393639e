"""The service report: which sections it has, for the customer and for the bench.

Every number is one of `ReportFacts`, put into words here. The bench's version has all that the record holds;
the customer's leaves out what only a bench can use, and carries the customer's name where it is known.
"""

from __future__ import annotations

from datetime import datetime

from app.reports.bench_sections import bench_sections
from app.reports.measured_sections import (
    instruments_section,
    states_section,
    surroundings_section,
    targets_section,
    trace_sections,
    verification_section,
)
from app.reports.sections import (
    NOT_MEASURED,
    NOT_NOTED,
    Section,
    joined,
    noted,
    when,
)
from app.settings import Settings
from procedures.analysis.figures import duration
from procedures.cautions import BEFORE_WORK
from procedures.events import Alarm, Outcome, Tier
from procedures.job import PartFitted, SheetField
from procedures.observed import CheckResult
from procedures.report.facts import Judged, ReportFacts, SessionPart

TITLE = "Service report"
SIGNATURES = ("Technician, date", "Checked by, date", "Customer, date")
SUPPLY_WORDS = "An alarm to switch the mains off was raised in this session; it stands under Findings."
# Common practice, no source.
CAUTIONS = (
    *BEFORE_WORK[:3],
    "This report says what was read and seen on the days it names. It is no test under the local codes; "
    "where those ask for one, a licensed person does it.",
)


def service_report(
    facts: ReportFacts, settings: Settings, *, bench: bool, printed: datetime
) -> list[Section]:
    """The sections of a report in their order. `printed` is when it is made."""
    sections = [
        _job(facts, bench, printed),
        _complaint(facts),
        _findings(facts, bench),
        _work(facts),
        _parts(facts, bench),
        states_section(facts),
        verification_section(facts),
        *trace_sections(facts),
        surroundings_section(facts),
        targets_section(facts),
        _modifications(facts),
        _left_out(facts),
        instruments_section(facts, settings),
    ]
    if bench:
        sections += bench_sections(facts)
    sections.append(Section("Cautions", lines=_cautions(facts), signatures=SIGNATURES))
    return sections


# --- the visit ----------------------------------------------------------------------------------------


def _job(facts: ReportFacts, bench: bool, printed: datetime) -> Section:
    sheet = facts.sheet
    text = sheet.text
    rows = [
        ("Job", facts.job),
        ("Date in", text(SheetField.DATE_IN) or ("" if facts.opened_utc is None else when(facts.opened_utc))),
        ("Customer reference", text(SheetField.CUSTOMER_REFERENCE)),
        ("Unit", facts.unit_name),
        ("Rated mains, fuse, class", _rated(facts)),
        ("Condition, accessories", joined([text(SheetField.CONDITION), text(SheetField.ACCESSORIES)], "; ")),
        ("Outcome", _outcome(facts)),
    ]
    if facts.customer is not None and not bench:
        rows.insert(2, ("Customer", joined([facts.customer.name, facts.customer.contact])))
    if bench:
        rows += [("Warranty, consent", joined([text(SheetField.WARRANTY), text(SheetField.CONSENT)], "; "))]
        money = (SheetField.ESTIMATE, SheetField.CEILING, SheetField.DEPOSIT, SheetField.PRICE)
        rows += [(line.value.capitalize(), text(line)) for line in money]
    rows.append(("Report made", when(printed)))
    lines = tuple(f"Could not be read: {trouble}" for trouble in facts.troubles)
    return Section("Job", pairs=tuple((name, noted(words)) for name, words in rows), lines=lines)


def _rated(facts: ReportFacts) -> str:
    lines = (SheetField.MAINS, SheetField.FUSE, SheetField.PROTECTION_CLASS)
    return joined([facts.sheet.text(line) for line in lines], "; ")


def _outcome(facts: ReportFacts) -> str:
    outcome = facts.sheet.outcome
    if outcome is not None:
        return joined([outcome.outcome.value, outcome.words], ": ")
    wholes = [part.whole for part in facts.sessions if part.whole is not None]
    return f"session: {wholes[-1].outcome.value}" if wholes else ""


def _complaint(facts: ReportFacts) -> Section:
    text = facts.sheet.text
    tried = facts.sheet.complaint_tried
    return Section(
        "Complaint",
        pairs=(
            ("In the customer's words", noted(text(SheetField.COMPLAINT))),
            ("When it happens", noted(text(SheetField.COMPLAINT_WHEN))),
            ("Connected to it", noted(text(SheetField.CONNECTED))),
            (
                "Met again at the bench",
                joined([facts.sheet.complaint_words, tried.words if tried is not None else ""], "; "),
            ),
        ),
    )


def _findings(facts: ReportFacts, bench: bool) -> Section:
    rows: list[tuple[str, ...]] = []
    lines: list[str] = []
    for part in facts.sessions:
        wrong = [one for one in part.looked if one.found.result is CheckResult.FAILED or one.found.words]
        shown = part.looked if bench else tuple(wrong)
        for one in shown:
            found = joined([_RESULTS[one.found.result], one.found.words], ": ")
            rows.append((one.found.text, found, one.step))
        rows += [(one.about, one.outcome.value, one.reason) for one in part.judged if _is_finding(one)]
        if part.looked:
            quiet = len(part.looked) - len(wrong)
            looked = f"{len(part.looked)} things were looked at in {part.title}"
            lines.append(f"{looked}; on {quiet} of them nothing was noted.")
        lines += [f"Alarm at {duration(alarm.at_s)}: {alarm.text}" for alarm in _alarms(part, bench)]
        if part.whole is not None:
            lines.append(f"{part.title}: {part.whole.outcome.value}. {part.whole.reason}")
        elif not part.finished:
            lines.append(f"{part.title}: not finished. {part.ended}")
    diagnosis = facts.sheet.text(SheetField.DIAGNOSIS)
    return Section(
        "Findings",
        pairs=(("Diagnosis, in the technician's words", noted(diagnosis)),),
        head=("Seen or judged", "Found", "Where, and why") if rows else (),
        shares=(38, 22, 40),
        rows=tuple(rows),
        lines=tuple(lines) or (f"By inspection: {NOT_NOTED}",),
    )


_RESULTS = {
    CheckResult.PASSED: "nothing wrong seen",
    CheckResult.FAILED: "not in order",
    CheckResult.NOT_THERE: "does not apply",
}


def _is_finding(one: Judged) -> bool:
    return one.outcome in (Outcome.FAILED, Outcome.LEFT_ALONE)


def _alarms(part: SessionPart, bench: bool) -> list[Alarm]:
    return [alarm for alarm in part.alarms if bench or alarm.tier in (Tier.ACT, Tier.OFF)]


def _work(facts: ReportFacts) -> Section:
    rows = [
        (
            joined([work.action, work.reference]),
            joined([work.step, work.fault], "; ") or NOT_NOTED,
            NOT_NOTED if work.minutes is None else f"{work.minutes:g} min",
        )
        for work in facts.sheet.work
    ]
    for part in facts.sessions:
        rows += [(f"{deed.step}: {deed.ended}", part.title, "") for deed in part.deeds]
    for part in facts.sessions:
        rows.append((f"{part.title}: {part.ended}", when(part.started_utc), duration(part.lasted_s)))
    lines = (f"Labour written down: {facts.sheet.minutes:g} min.",) if facts.sheet.minutes else ()
    return Section(
        "Work",
        head=("Done", "Step, fault, or session", "Time") if rows else (),
        shares=(50, 34, 16),
        rows=tuple(tuple(cell or "–" for cell in row) for row in rows),
        lines=lines if rows else (f"Work: {NOT_NOTED}",),
    )


def _parts(facts: ReportFacts, bench: bool) -> Section:
    parts = facts.sheet.parts
    if not parts:
        return Section("Parts", lines=(f"Parts fitted: {NOT_NOTED}",))
    head = ("Part", "Fitted", "Remarks")
    rows = tuple(
        (f"{part.quantity} × {part.reference}", _fitted(part), _remarks(part, bench)) for part in parts
    )
    questions = tuple(f"{part.reference}: {question}" for part in parts for question in part.questions)
    return Section("Parts", head=head, shares=(26, 34, 40), rows=rows, lines=questions if bench else ())


def _fitted(part: PartFitted) -> str:
    asked = f"asked for {part.rating_asked}" if part.rating_asked.strip() else ""
    return noted(joined([part.rating_fitted, asked, part.maker], "; "))


def _remarks(part: PartFitted, bench: bool) -> str:
    marks = ["safety-critical"] if part.safety_critical else []
    marks += ["supplied by the customer"] if part.customer_supplied else []
    if part.returned is not None:
        marks.append("old part returned" if part.returned else "old part kept by the workshop")
    words = [*marks, part.words]
    if bench:
        named = (("source", part.source), ("batch", part.batch), ("matched", part.matched))
        words += [f"{name}: {noted(said)}" for name, said in named]
    if part.price.strip():
        words.append(f"price: {part.price}")
    return noted(joined(words, "; "))


# --- the rest -----------------------------------------------------------------------------------------


def _modifications(facts: ReportFacts) -> Section:
    supplied = joined(part.reference for part in facts.sheet.parts if part.customer_supplied)
    return Section(
        "Modifications and customer-supplied parts",
        pairs=(
            ("Modifications", noted(facts.sheet.text(SheetField.MODIFICATIONS))),
            ("Earlier repairs", noted(facts.sheet.text(SheetField.EARLIER_REPAIRS))),
            ("Supplied by the customer", noted(supplied)),
        ),
    )


def _left_out(facts: ReportFacts) -> Section:
    rows = [(one.test, noted(one.reason)) for one in facts.sheet.left_out]
    rows += [(one.what, noted(one.reason)) for part in facts.sessions for one in part.not_done]
    if not rows:
        words = "The record names none." if facts.sessions else f"Everything else: {NOT_MEASURED}."
        return Section("Tests not done", lines=(words,))
    return Section("Tests not done", head=("Test", "Why"), shares=(50, 50), rows=tuple(rows))


def _cautions(facts: ReportFacts) -> tuple[str, ...]:
    alarmed = any(alarm.tier is Tier.OFF for part in facts.sessions for alarm in part.alarms)
    return (*((SUPPLY_WORDS,) if alarmed else ()), *CAUTIONS)
