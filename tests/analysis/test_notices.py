"""The codes of notices are one list, with what each means."""

import re
from pathlib import Path

from strokewise.analysis.notices import CODES

ROOT = Path(__file__).parents[2]
GIVEN = re.compile(r'(?:[Nn]otice\(\s*|: Final = )"([a-z][a-z-]+)"')
ROW = re.compile(r"^\| `([a-z-]+)` \| (.+) \|$", re.MULTILINE)


def test_the_table_of_the_documents_has_every_code_once_with_its_meaning():
    rows = ROW.findall((ROOT / "analysis" / "NOTICES.md").read_text(encoding="utf-8"))
    assert [code for code, _ in rows] == sorted(CODES)
    assert len(CODES) == len(set(CODES))
    assert len({meaning for _, meaning in rows}) == len(rows)


def test_every_code_that_is_given_is_on_the_list():
    given = {
        code
        for room in ("analysis", "daq", "gui")
        for file in (ROOT / room).rglob("*.py")
        for code in GIVEN.findall(file.read_text(encoding="utf-8"))
    }
    assert len(given) > 40
    assert given <= set(CODES) | {"tdc-by-index"}
