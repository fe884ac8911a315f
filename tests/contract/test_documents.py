"""What README and the module heads list is what there is."""

from __future__ import annotations

import re
from pathlib import Path

from capture import leaves, place

ROOT = Path(__file__).parents[2]


def codes_of_rules() -> list[str]:
    """Codes in the order of the table at the head of ``capture.place``."""
    return re.findall(r"^ ?\d+ +([a-z-]+) ", place.__doc__ or "", re.MULTILINE)


def test_every_reason_is_explained_in_order() -> None:
    codes = codes_of_rules()
    assert len(codes) == 38
    readme = ROOT.joinpath("README.md").read_text("utf-8")
    table = readme.split("### Why a reading is not counted")[1].split("\n## ")[0]
    rows = re.findall(r"^\| (`.+?`) \|", table, re.MULTILINE)
    listed = [code for row in rows for code in re.findall(r"`([a-z-]+)`", row)]
    assert listed == [*codes, "fault"]


def test_the_table_is_what_the_code_can_say() -> None:
    rules = Path(place.__file__).parent / "rules"
    files = [*sorted(rules.glob("*.py")), rules.parent / "finer.py"]
    source = "\n".join(path.read_text("utf-8") for path in files)
    said = set(re.findall(r'"code": "([a-z-]+)"', source))
    said |= set(re.findall(r'^\w+_slip = slip\(\s*"([a-z-]+)"', source, re.MULTILINE))
    # What can be wrong with a leaf has its words in capture.leaves; two of them are findings only.
    of_gaps = {leaves.Code.OFF_THE_SET, leaves.Code.UNLIKE_SISTERS}
    said |= {code.value.replace("_", "-") for code in leaves.Code if code not in of_gaps}
    assert said == set(codes_of_rules())


def test_every_shipped_profile_is_in_the_readme() -> None:
    readme = ROOT.joinpath("README.md").read_text("utf-8")
    shipped = {path.stem for path in ROOT.joinpath("drivers", "profiles").glob("*.toml")}
    assert shipped == set(re.findall(r"^\| `([a-z-]+)` \| [a-z]", readme, re.MULTILINE)) & shipped
    assert len(shipped) == 9
