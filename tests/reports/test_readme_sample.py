"""The sample in README.md is what the command prints."""

from __future__ import annotations

import pathlib
import re

from tests.reports.running import steptally

README = pathlib.Path(__file__).parents[2] / "README.md"


def test_the_sample_is_the_first_part_of_what_is_printed(tmp_path: pathlib.Path) -> None:
    page = README.read_text(encoding="utf-8")
    found = re.search(r"<!-- sample -->\n`steptally (.+)`.*?\n\n```text\n(.*?)```\n", page, re.DOTALL)
    assert found is not None
    done = steptally(tmp_path, *found[1].split(), changes={"COLUMNS": "80"})
    assert done.returncode == 0
    assert found[2].count("\n") > 40
    assert "\n".join(line.rstrip() for line in done.stdout.splitlines()).startswith(found[2].rstrip())
