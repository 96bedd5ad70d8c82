"""The codes of notices are one list, with what each means."""

import re
from pathlib import Path

from strokewise.analysis.notices import CODES, MEANINGS, table

ROOT = Path(__file__).parents[2]
GIVEN = re.compile(r'(?:Notice\(\s*|: Final = )"([a-z][a-z-]+)"')


def test_every_code_has_a_meaning_and_no_meaning_lacks_its_code():
    assert set(CODES) == set(MEANINGS)
    assert len(CODES) == len(set(CODES))
    assert len(set(MEANINGS.values())) == len(MEANINGS)


def test_the_table_of_the_documents_is_the_list():
    text = (ROOT / "analysis" / "NOTICES.md").read_text(encoding="utf-8")
    assert text.endswith(f"\n\n{table()}\n")


def test_every_code_that_is_given_is_on_the_list():
    given = {
        code
        for room in ("analysis", "daq", "gui")
        for file in (ROOT / room).rglob("*.py")
        for code in GIVEN.findall(file.read_text(encoding="utf-8"))
    }
    assert len(given) > 40
    assert given <= set(CODES)
