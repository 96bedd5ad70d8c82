"""What can be handed over or argued from? The job sheet as one HTML file and as PDF."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from importlib import metadata

from strokewise.analysis.errors import InputError
from strokewise.gui.job.job import read_job
from strokewise.gui.options import EXIT_DECIDED, Subparsers, add_command, complain
from strokewise.gui.sheet.pdf import write_pdf
from strokewise.gui.sheet.sheet import sheet_of
from strokewise.gui.sheet.write import sheet_files, write_html


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise sheet``."""
    parser = add_command(
        subparsers,
        "sheet",
        example="strokewise sheet bench-four\n"
        "strokewise sheet bench-four --paper letter --out handover",
        after="The PDF needs Qt (pip install strokewise[window]); the HTML needs nothing.",
    )
    parser.add_argument("job", metavar="JOB", help="the job's folder")
    parser.add_argument(
        "--out", metavar="NAME", help="NAME.html and NAME.pdf; JOB-sheet beside the job if left out"
    )
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="default a4")
    parser.add_argument("--html-only", action="store_true", help="make no PDF")
    parser.add_argument("--force", action="store_true", help="write over existing files")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write both files; where Qt is missing, the HTML is still made and one line says so."""

    job = read_job(args.job)
    files = sheet_files(job, args.out)
    for file in (files.html,) if args.html_only else (files.html, files.pdf):
        if file.exists() and not args.force:
            raise InputError(f"{file} is there already: choose another --out, or say --force")
    now = datetime.now(UTC).astimezone()
    sheet = sheet_of(job, now=now, version=metadata.version("strokewise"))
    write_html(sheet, files)
    print(files.html)
    if args.html_only:
        return EXIT_DECIDED
    try:
        pages = write_pdf(sheet, files.pdf, args.paper)
    except InputError as error:
        return complain(str(error))
    print(f"{files.pdf}, {pages} pages")
    return EXIT_DECIDED
