"""What leaves the office: drafts, names as codes, and parts left out. Pure functions from report to report."""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Literal, get_args

from auditor.report.json_text import sealed
from auditor.report.model import Finding, FixFirst, Item, JobReport, Judgement, PartName, Report, WalkStop
from auditor.vocabulary.haul import ROAD_CLASSES
from auditor.vocabulary.waterside import STREAM_CLASSES

PARTS: tuple[PartName, ...] = get_args(PartName)
DRAFT = "Draft: this report is not finished. Do not rely on it and do not hand it on."
CODED = (
    "Names are replaced by codes: the contractor, the title of the job, trucks, trailers, destinations, roads, streams, "
    "observers, photographs and files, and the reasons of judgements. Job codes, ticket numbers, the names of banks, "
    "crossings and other places of the site, and dates stay as recorded, and so does who confirmed a limit. The notes on "
    "reading are left out, because they quote the record, and a map, because it shows where the site lies."
)
OPEN_KEY = "The codes were made without a secret: who knows a name can work out its code."
LEFT_OUT = "Left out of this report: {}. That such a part is empty does not mean that nothing was found."
NO_RULES = "Without the texts of the rules this report cannot be verified by running it again."

_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_SHORTEST_CODE, _LONGEST_CODE = 8, 50
_SUFFIXES = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".yaml")
_JOB_FILE = "job.yaml"
_ROAD_WORDS = {"", "road", "none", *(c.replace("_", " ") for c in ROAD_CLASSES)}
_PART_OF_LOAD = re.compile(r"((?:axles? [0-9-]+|stack [0-9]+|tiedown line [0-9]+| )*)(.*)", re.DOTALL)
_PART_OF_SITE = re.compile(
    r"((?:(?:station [0-9]+|strip [0-9.,]+ to [0-9.,]+ ft from the bank|stump [0-9]+|pipe [0-9]+|drain [0-9]+"
    r"|at [0-9.,]+ ft|[0-9.,]+ to [0-9.,]+ ft|(?:left|right|head|all round) side)(?:, |$))*)(?:of (.+))?",
    re.DOTALL,
)
_AT_A_STREAM = re.compile(
    rf"((?:left|right) side of |head of |all round |beside |[a-z ]+? on )(.+?)((?:, (?:{'|'.join(STREAM_CLASSES)}))?(?:, [0-9.,]+ ft)?)",
    re.DOTALL,
)
_PLAIN = re.compile(r"[a-z0-9 ,.'-]*")
"""Words of the vocabulary and numbers: names begin with capitals, and what does not match goes by a code."""
_MAPPED_BANK = re.compile(r"((?:.+? at )?)(.+) (left|right|head)", re.DOTALL)
"""A bank that no table names goes by its stream and side; a disturbed place beside it says so too."""
_RULE = re.compile(r"[a-z-]+/[a-z_]+/[a-z0-9-]+")
_ROAD = re.compile(r"(on )?(.*?)( \([A-Z]{2}\)|)", re.DOTALL)
_SOURCE = re.compile(r"(.+?)(?:, sheet (.+?))?(, row [0-9]+)?", re.DOTALL)


@dataclass(frozen=True, slots=True)
class NamesKey:
    """What codes are made with, and the value by which a secret can be told from another without giving it away."""

    key: bytes
    check: str


def names_key(jobs: Iterable[str], secret: bytes | None = None) -> NamesKey:
    """The key for codes: from a secret, the same in every report; without one, from the codes of the jobs."""
    if secret is None:
        return NamesKey(hashlib.sha256("\n".join(sorted(jobs)).encode("utf-8")).digest(), "")
    # Slow on purpose: a passphrase that can be guessed quickly would give the names away.
    key = hashlib.scrypt(secret, salt=b"auditor names", n=2**14, r=8, p=1, dklen=32)
    return NamesKey(key, hmac.new(key, b"\0check", hashlib.sha256).hexdigest()[:8])


def edition(
    report: Report,
    draft: bool = False,
    names: Literal["as recorded", "codes"] = "as recorded",
    parts: Collection[PartName] = PARTS,
    secret: bytes | None = None,
) -> Report:
    """The report as it leaves the office, sealed anew. `parts` are those that stay in; `secret` keys the codes."""
    if names == "codes":
        report = coded(report, names_key((j.job for j in report.jobs), secret))
    report = with_parts(report, parts)
    return as_draft(report) if draft else report


def as_draft(report: Report) -> Report:
    """The same report marked as a draft."""
    return sealed(report.model_copy(update={"draft": True, "cautions": [DRAFT, *report.cautions]}))


def with_parts(report: Report, parts: Collection[PartName]) -> Report:
    """The report with no more than the parts named; it says which were left out."""
    left_out = [p for p in PARTS if p not in parts or p in report.left_out]
    if left_out == report.left_out:
        return report
    changes: dict[str, object] = {
        "left_out": left_out,
        "cautions": [*report.cautions, LEFT_OUT.format(", ".join(left_out))],
        "jobs": [_job_without(job, left_out) for job in report.jobs],
    }
    if "rules" in left_out:
        changes["rules"] = [r.model_copy(update={"text": ""}) for r in report.rules]
        changes["cautions"] = [*report.cautions, LEFT_OUT.format(", ".join(left_out)), NO_RULES]
    return sealed(report.model_copy(update=changes))


def _job_without(job: JobReport, left_out: Collection[PartName]) -> JobReport:
    lists = {"open questions": "open_questions"}
    changes: dict[str, object] = {lists.get(p, p): [] for p in left_out if p not in ("rules", "map")}
    if "map" in left_out:
        changes["map"] = None
    if "limits" in left_out:
        changes["stale"] = []
    # What to fix first quotes findings, judgements and missing evidence, and goes with them.
    changes["fix_first"] = [f for f in job.fix_first if _quoted(f) not in left_out]
    return job.model_copy(update=changes)


def _quoted(fix: FixFirst) -> PartName:
    """The part of the report that a thing to do first is taken from."""
    if fix.judgement:
        return "judgements"
    return "findings" if fix.finding else "missing"


def coded(report: Report, key: NamesKey) -> Report:
    """The report with codes for names. Equal names have equal codes, different names different ones.

    A text whose make-up is not known is replaced whole, so that no name slips through.
    """
    if report.names == "codes":
        raise ValueError("the names of this report are codes already")
    names: set[str] = set()

    def gather(kind: str, name: str) -> str:
        names.add(name)
        return name

    for job in report.jobs:
        # The first pass only gathers, so that the second can make codes long enough to differ.
        _coded_job(job, gather)
    code = coder(key, names)
    quoting = ("notes", "map") if any(job.map is not None for job in report.jobs) else ("notes",)
    changes = {
        "jobs": [_coded_job(job, code) for job in report.jobs],
        "names": "codes",
        "names_key": key.check,
        "left_out": [p for p in PARTS if p in (*quoting, *report.left_out)],
        "cautions": [*report.cautions, CODED, *([] if key.check else [OPEN_KEY])],
    }
    return sealed(report.model_copy(update=changes))


Coder = Callable[[str, str], str]
"""Kind and name -> code."""


def coder(key: NamesKey, names: Collection[str]) -> Coder:
    """A function that gives each of the names its code, as short as keeps them apart."""
    full = {name: _letters(key.key, name) for name in names}
    length = _SHORTEST_CODE
    while length < _LONGEST_CODE and len({c[:length] for c in full.values()}) < len(full):
        length += 2
    return lambda kind, name: f"{kind}-{full[name][:length]}"


def _letters(key: bytes, name: str) -> str:
    number = int.from_bytes(hmac.new(key, name.encode("utf-8"), hashlib.sha256).digest(), "big")
    return "".join(_ALPHABET[number >> 5 * place & 31] for place in range(_LONGEST_CODE))


def _coded_job(job: JobReport, code: Coder) -> JobReport:
    phrases: dict[str, str] = {}
    findings = [_coded_finding(f, code, phrases) for f in job.findings]
    judgements = [_coded_judgement(j, code) for j in job.judgements]
    told = {a.name: (a, b) for a, b in zip(job.judgements, judgements, strict=True)}
    rules = {a.rule: b.rule for a, b in told.values() if a.rule != b.rule}
    rules |= {a.place: b.place for a, b in told.values() if a.place != b.place}
    return job.model_copy(
        update={
            "title": job.job,
            "contractor": code("contractor", job.contractor) if job.contractor else "",
            "findings": findings,
            "fix_first": [_coded_fix(f, told.get(f.judgement), phrases) for f in job.fix_first],
            "walk": [_coded_stop(stop, code) for stop in job.walk],
            "judgements": judgements,
            "missing": [m.model_copy(update={"samples": _names(m.subject, m.samples, code)}) for m in job.missing],
            "open_questions": [
                q.model_copy(update={"samples": _names(q.subject, q.samples, code)}) for q in job.open_questions
            ],
            "not_covered": [_replaced(text, rules) for text in job.not_covered],
            "weights": [w.model_copy(update={"where": _road(w.where, code)}) for w in job.weights],
            "evidence": [e.model_copy(update={"path": coded_path(e.path, code)}) for e in job.evidence],
            "notes": [],
            "map": None,
        }
    )


def _name(subject: str, name: str, code: Coder) -> str:
    """The name of a load or place; a stream goes by a code, for it may be on any map, also in the name of its bank."""
    if subject == "stream" and name:
        return code("stream", name)
    mapped = _MAPPED_BANK.fullmatch(name) if subject in ("bank", "disturbed place") else None
    return name if mapped is None else f"{mapped[1]}{code('stream', mapped[2])} {mapped[3]}"


def _names(subject: str, names: Iterable[str], code: Coder) -> list[str]:
    return [_name(subject, name, code) for name in names]


def _coded_stop(stop: WalkStop, code: Coder) -> WalkStop:
    """A stop of the walk; its words are made of classes and numbers but for the name of the water."""
    where = stop.where
    found = _AT_A_STREAM.fullmatch(where) if stop.subject in ("bank", "crossing") else None
    if found is not None:
        where = f"{found[1]}{code('stream', found[2])}{found[3]}"
    elif where and (stop.subject == "judgement" or _PLAIN.fullmatch(where) is None):
        where = code("place", where)
    return stop.model_copy(update={"name": _name(stop.subject, stop.name, code), "where": where})


def _coded_judgement(judgement: Judgement, code: Coder) -> Judgement:
    kinds = {"practice": "practice", "reason": "text", "observer": "observer", "licence": "licence", "photo": "photo"}
    changes: dict[str, object] = {
        name: code(kind, getattr(judgement, name)) for name, kind in kinds.items() if getattr(judgement, name)
    }
    if judgement.rule and _RULE.fullmatch(judgement.rule) is None:
        changes["rule"] = code("rule", judgement.rule)
    changes["place"] = _coded_place(judgement, code)
    # Where a photograph was taken tells where the site lies.
    changes |= {"photo_latitude_deg": None, "photo_longitude_deg": None, "source": _source(judgement.source, code)}
    return judgement.model_copy(update=changes)


def _coded_place(judgement: Judgement, code: Coder) -> str:
    """The place of a judgement: names of places stay; a stream and what is of no known kind go by a code."""
    if judgement.place and judgement.place_kind in ("stream", "other", ""):
        return code("stream" if judgement.place_kind == "stream" else "place", judgement.place)
    return _name(judgement.place_kind, judgement.place, code)


def _coded_fix(fix: FixFirst, told: tuple[Judgement, Judgement] | None, phrases: dict[str, str]) -> FixFirst:
    if told is None:
        return fix.model_copy(update={"how_much": _replaced(fix.how_much, phrases)})
    was, now = told
    text = fix.text.removesuffix(was.reason) + now.reason if was.reason else fix.text
    how = fix.how_much.removesuffix(was.place) + now.place if was.place else fix.how_much
    return fix.model_copy(update={"text": text, "how_much": how})


def _coded_finding(finding: Finding, code: Coder, phrases: dict[str, str]) -> Finding:
    items = [_coded_item(item, finding.subject, code) for item in finding.items]
    own = {a.what: b.what for a, b in zip(finding.items, items, strict=True) if a.what != b.what}
    own |= {
        f"{finding.subject} {a.subject}": f"{finding.subject} {b.subject}"
        for a, b in zip(finding.items, items, strict=True)
        if a.subject != b.subject
    }
    phrases |= own
    changes = {"items": items, "worst": _replaced(finding.worst, own), "summary": _replaced(finding.summary, own)}
    return finding.model_copy(update=changes)


def _coded_item(item: Item, subject: str, code: Coder) -> Item:
    return item.model_copy(
        update={
            "subject": _name(subject, item.subject, code),
            "what": _what(item.what, code),
            "vehicle": " + ".join(_units(item.vehicle, code)),
            "destination": code("destination", item.destination) if item.destination else "",
            "source": _source(item.source, code),
        }
    )


def _replaced(text: str, phrases: dict[str, str]) -> str:
    """The text with whole phrases replaced, the longest first, each place once."""
    if not phrases:
        return text
    form = "|".join(re.escape(p) for p in sorted(phrases, key=lambda p: (-len(p), p)))
    return re.sub(form, lambda found: phrases[found.group()], text)


def _units(vehicle: str, code: Coder) -> Iterator[str]:
    kinds = ("truck", "trailer")
    for place, name in enumerate(vehicle.split(" + ")):
        if name:
            yield code(kinds[min(place, 1)], name)


def _what(text: str, code: Coder) -> str:
    """Which part of the load or place, its numbers kept, with a code for the road, the stream or whatever else is said."""
    site = _PART_OF_SITE.fullmatch(text)
    if site is not None and text:
        return f"{site[1]}of {code('stream', site[2])}" if site[2] else text
    known, rest = _matched(_PART_OF_LOAD, text)
    return f"{known}{_road(rest or '', code)}"


def _road(text: str, code: Coder) -> str:
    on, name, state = _matched(_ROAD, text)
    if (name or "").lower() in _ROAD_WORDS:
        return text
    return f"{on or ''}{code('road', name or '')}{state or ''}"


def _source(text: str, code: Coder) -> str:
    if not text:
        return ""
    path, sheet, row = _matched(_SOURCE, text)
    return f"{coded_path(path or '', code)}{', sheet ' + code('sheet', sheet) if sheet else ''}{row or ''}"


def _matched(form: re.Pattern[str], text: str) -> tuple[str | None, ...]:
    found = form.fullmatch(text)
    if found is None:
        raise AssertionError(f"{form.pattern} is made to match any text")
    return found.groups()


def coded_path(path: str, code: Coder) -> str:
    """The code of a file of the record, with its ending; job.yaml, which every job has, stays."""
    if path == _JOB_FILE:
        return path
    suffix = PurePosixPath(path).suffix.lower()
    return code("file", path) + (suffix if suffix in _SUFFIXES else "")
