"""The catalogue of fixed sentences, one file a language under rules/knowledge/wording/."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache

from advisor.knowledge import TableError
from advisor.paths import rules_root, toml_files
from advisor.toml_file import read_toml

PLACEHOLDER = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True)
class Wording:
    """The sentences of one language. `reviewed` says whether a professional translator has looked at them."""

    language: str
    name: str
    reviewed: str
    sentences: Mapping[str, str]

    def __call__(self, key: str, **values: str) -> str:
        """The sentence with its placeholders filled. Raises KeyError for an unknown key or a missing value."""
        return PLACEHOLDER.sub(lambda found: values[found[1]], self.sentences[key])

    def all_of(self, prefix: str) -> tuple[str, ...]:
        """The keys that begin with a prefix, in the order of the file."""
        return tuple(key for key in self.sentences if key.startswith(f"{prefix}."))


@lru_cache(maxsize=1)
def languages() -> tuple[str, ...]:
    """The languages there is a catalogue for."""
    return tuple(file.name.removesuffix(".toml") for file in toml_files(rules_root() / "knowledge" / "wording"))


@cache
def wording(language: str) -> Wording:
    """The catalogue of a language, checked against the English one. Raises TableError."""
    made = _read(language)
    if language != "en":
        english = wording("en").sentences
        if odd := sorted(english.keys() ^ made.sentences.keys()):
            raise TableError(f"wording/{language}.toml: not the keys of the English catalogue: {', '.join(odd[:5])}")
        for key, sentence in english.items():
            if sorted(PLACEHOLDER.findall(sentence)) != sorted(PLACEHOLDER.findall(made.sentences[key])):
                raise TableError(f"wording/{language}.toml: {key}: not the placeholders of the English sentence")
    return made


def _read(language: str) -> Wording:
    file = f"wording/{language}.toml"
    data = read_toml(rules_root() / "knowledge" / "wording" / f"{language}.toml", TableError, name=file)
    try:
        sentences = {f"{group}.{key}": text for group, texts in data["wording"].items() for key, text in texts.items()}
        return Wording(language, data["name"], data["reviewed"], sentences)
    except (KeyError, AttributeError) as error:
        raise TableError(f"{file}: cannot be read: {error!r}") from None
