"""The labels of one language."""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent
USUAL = "en"
PLURALS = frozenset({"zero", "one", "two", "few", "many", "other"})
"""The plural categories of CLDR (Unicode Technical Standard 35, part 3)."""
PLACE = re.compile(r"\{([a-z_]+)\}")

Label = str | Mapping[str, str]


class Labels:
    """What a page says, in one language."""

    def __init__(self, language: str, texts: Mapping[str, Label]) -> None:
        self.language = language
        self.texts = texts

    def text(self, key: str, /, **values: object) -> str:
        """A label, filled in. Raises KeyError where there is none, or a value is missing."""
        label = self.texts[key]
        if not isinstance(label, str):
            label = label.get(self._category(values["count"])) or label["other"]
        return PLACE.sub(lambda found: str(values[found[1]]), label)

    def named(self, group: str, word: str) -> str:
        """What a word of the ledger (``conforming``) is called; the word itself, made readable,
        where nothing calls it otherwise: a newer store may hold words that this program lacks."""
        label = self.texts.get(f"{group}.{word}")
        return label if isinstance(label, str) else word.replace("-", " ").replace("_", " ")

    def some(self, files: Iterable[str]) -> dict[str, Any]:
        """The labels of these files, for a script: ``{"language": …, "texts": {key: label}}``."""
        heads = tuple(f"{file}." for file in files)
        texts = {key: label for key, label in self.texts.items() if key.startswith(heads)}
        return {"language": self.language, "texts": texts}

    def _category(self, count: object) -> str:
        from babel import Locale  # only labels that count need it

        number = count if isinstance(count, int) else 0
        return str(Locale.parse(self.language).plural_form(number))


@functools.cache
def languages() -> tuple[str, ...]:
    """The languages there are, the usual one first."""
    found = sorted(path.name for path in FOLDER.iterdir() if (path / "common.toml").is_file())
    return tuple(sorted(found, key=lambda name: name != USUAL))


@functools.cache
def labels(language: str) -> Labels:
    """The labels of a language. Raises KeyError for one that there is not."""
    if language not in languages():
        raise KeyError(language)
    texts: dict[str, Label] = {}
    for path in sorted((FOLDER / language).glob("*.toml")):
        texts |= flat(path.stem, tomllib.loads(path.read_text("utf-8")))
    return Labels(language, texts)


def flat(head: str, table: Mapping[str, Any]) -> dict[str, Label]:
    """A table's labels by their whole key."""
    found: dict[str, Label] = {}
    for key, value in table.items():
        name = f"{head}.{key}"
        if isinstance(value, str) or ("other" in value and PLURALS.issuperset(value)):
            found[name] = value
        else:
            found |= flat(name, value)
    return found
