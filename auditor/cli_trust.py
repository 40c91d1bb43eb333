"""The commands `verify` and `sign`, and the options of `check` that say what leaves the office."""

from __future__ import annotations

import argparse
import getpass
import os
import sys
from pathlib import Path
from typing import Any

import auditor
from auditor import Problem, Report, UnusableInput
from auditor.vocabulary.problems import system_reason

STANDS, DIFFERS, UNUSABLE = 0, 1, 2
PASSPHRASE = "AUDITOR_KEY_PASSPHRASE"
LEAST_SECRET_BYTES = 12
_PARTS = {p.replace(" ", "-"): p for p in auditor.PARTS}


def add_check_options(check: argparse.ArgumentParser) -> None:
    """The options of `check` that shape the report for those who get it."""
    check.add_argument("--draft", action="store_true", help="mark the report as a draft")
    check.add_argument(
        "--names",
        choices=("recorded", "codes"),
        default="recorded",
        help="codes: replace contractor, units, destinations, roads and files by codes",
    )
    check.add_argument(
        "--names-key",
        type=Path,
        metavar="FILE",
        help=f"secret file, {LEAST_SECRET_BYTES} bytes or more; the same codes in every report, and no one else can "
        "work them out",
    )
    check.add_argument(
        "--parts", nargs="+", action="extend", choices=tuple(_PARTS), metavar="PART",
        help=f"parts that leave the office: {', '.join(_PARTS)}; default: all",
    )  # fmt: skip


def edition_of(report: Report, options: argparse.Namespace) -> Report:
    """The report as the options of `check` want it."""
    if options.names_key is not None and options.names != "codes":
        raise _refused("--names-key", "names as recorded", "--names codes", "Add --names codes or take the key out.")
    parts = auditor.PARTS if options.parts is None else [_PARTS[p] for p in options.parts]
    names: Any = "codes" if options.names == "codes" else "as recorded"
    return auditor.edition(report, options.draft, names, parts, _secret(options.names_key))


def add_commands(commands: Any) -> None:
    """The commands `verify` and `sign`."""
    verify = commands.add_parser(
        "verify",
        help="check that a report still stands",
        epilog="Exit status: 0 the report stands, 1 something differs, 2 the files are unusable or the report cannot "
        "be run again. OpenSSL alone checks a signature with: openssl pkeyutl -verify -pubin -inkey KEY.pub.pem -rawin "
        "-in REPORT.json -sigfile REPORT.json.sig",
    )
    verify.add_argument("report", type=Path, metavar="REPORT.json", help="report as `check --write` wrote it")
    verify.add_argument("jobs", nargs="*", type=Path, metavar="JOB", help="job folders that it was made from")
    verify.add_argument("--signature", type=Path, metavar="FILE", help="signature; default: REPORT.json.sig")
    verify.add_argument("--public-key", type=Path, metavar="KEY.pem", help="the signer's public key")
    verify.add_argument("--signature-only", action="store_true", help="check digest and signature, run nothing again")
    verify.add_argument("--names-key", type=Path, metavar="FILE", help="secret file that the codes were made with")
    verify.set_defaults(run=_verify)
    sign = commands.add_parser(
        "sign",
        help="sign a report, or make a key",
        epilog=f"The passphrase of a key is asked for, or taken from the environment variable {PASSPHRASE}; set it "
        "to nothing to make a key without one.",
    )
    sign.add_argument("report", nargs="?", type=Path, metavar="REPORT.json", help="report to sign")
    which = sign.add_mutually_exclusive_group(required=True)
    which.add_argument("--key", type=Path, metavar="KEY.pem", help="Ed25519 private key, as PEM (PKCS#8)")
    which.add_argument("--new-key", type=Path, metavar="KEY.pem", help="make a key here and KEY.pub.pem beside it")
    sign.set_defaults(run=_sign)


def _verify(options: argparse.Namespace) -> int:
    found = auditor.verify(
        options.report,
        options.jobs,
        _secret(options.names_key),
        options.signature,
        options.public_key,
        options.signature_only,
    )
    for line in auditor.verification_lines(found):
        print(line)
    return {"stands": STANDS, "signature good": STANDS, "differs": DIFFERS}.get(found.status, UNUSABLE)


def _sign(options: argparse.Namespace) -> int:
    if (options.report is None) == (options.key is not None):
        raise _refused("sign", "half a command", "REPORT.json --key KEY.pem, or --new-key KEY.pem alone", "Write one.")
    if options.new_key is not None:
        passphrase = _new_passphrase()
        fingerprint = auditor.new_key(options.new_key, passphrase)
        kept = "" if passphrase else " It has no passphrase: who has the file can sign."
        print(f"Written: {options.new_key} (private; keep it).{kept}")
        print(f"Written: {auditor.public_path(options.new_key)} (public; hand it out)")
    else:
        target, fingerprint = auditor.sign_report(options.report, options.key, _passphrase)
        print(f"Written: {target}")
    print(f"SHA-256 of the public key: {fingerprint}")
    return STANDS


def _passphrase() -> bytes:
    given = os.environ.get(PASSPHRASE)
    if given is None:
        given = _asked("Passphrase of the key: ")
    return given.encode("utf-8")


def _new_passphrase() -> bytes | None:
    given = os.environ.get(PASSPHRASE)
    if given is None:
        given = _asked("Passphrase for the new key (empty for none): ")
        if given != _asked("The same again: "):
            raise _refused("passphrase", "two that differ", "the same twice", "Try again.")
    return given.encode("utf-8") or None


def _asked(words: str) -> str:
    if not sys.stdin.isatty():
        raise _refused("passphrase", "no terminal to ask at", f"the environment variable {PASSPHRASE}", "Set it.")
    return getpass.getpass(words)


def _secret(path: Path | None) -> bytes | None:
    """The secret in a file, without the line end that editors add."""
    if path is None:
        return None
    try:
        secret = path.read_bytes().rstrip(b"\r\n")
    except OSError as error:
        raise _refused(str(path), system_reason(error), "a file that can be read", "Check the name.") from error
    if len(secret) < LEAST_SECRET_BYTES:
        found = f"{len(secret)} bytes"
        raise _refused(str(path), found, f"a secret of {LEAST_SECRET_BYTES} bytes or more", "Use a longer one.")
    return secret


def _refused(where: str, found: str, expected: str, todo: str) -> UnusableInput:
    return UnusableInput([Problem(where, "", "", found, expected, todo)])
