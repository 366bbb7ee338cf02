"""The values that docstrings show beside physics, chemistry and arithmetic are what the functions give."""

from __future__ import annotations

import doctest
import importlib
import re

import pytest

# each of these shows at least so many values
MODULES = {
    "interval": 5, "quantities": 3, "composition": 3, "physics": 2, "chemistry": 5, "measures.acidity": 6,
    "measures.air": 8, "measures.exhaustion": 5, "measures.goods": 1, "measures.heat": 8, "measures.rinse": 5,
    "measures.saturation": 2,
}  # fmt: skip
# where a shown value comes from: reckoned by hand, a definition, or a document with its year or name
_SOURCE = re.compile(
    r"\bby (hand|definition)\b|\b(published|from memory)\b|\b(18|19|20)\d\d\b|\bNIST\b|\bPHREEQC\b"
    r"|\bcommon practice\b|\bno source needed\b",
    re.IGNORECASE,
)


def shown(module: str) -> list[doctest.DocTest]:
    """The docstrings of a module that show a value."""
    found = doctest.DocTestFinder(exclude_empty=True).find(importlib.import_module(f"advisor.{module}"))
    return [test for test in found if test.examples]


def unsourced(docstring: str) -> list[str]:
    """Values in a docstring of which the two lines before do not say where they come from."""
    told, missing = "", []
    for part in doctest.DocTestParser().parse(docstring):
        if isinstance(part, str):
            told = " ".join(part.strip().splitlines()[-2:]) or told
        elif not _SOURCE.search(told):
            missing.append(part.source.strip())
    return missing


@pytest.mark.parametrize("module", MODULES)
def test_values_shown_in_docstrings(module: str) -> None:
    tests = shown(module)
    assert len(tests) >= MODULES[module]
    told: list[str] = []
    runner = doctest.DocTestRunner(verbose=False)
    for test in tests:
        runner.run(test, out=told.append, clear_globs=False)
    assert not runner.failures, "".join(told)


@pytest.mark.parametrize("module", MODULES)
def test_a_shown_value_says_where_it_comes_from(module: str) -> None:
    """A value copied from the program's own output would prove nothing."""
    for test in shown(module):
        assert not unsourced(test.docstring or ""), f"{test.name}: say by hand, by definition, or which document"


def test_a_value_from_nowhere_is_noticed() -> None:
    assert unsourced("The half.\n\n>>> 4 / 2\n2.0\n\nBy hand:\n\n>>> 2 / 2\n1.0\n") == ["4 / 2"]


def test_a_wrong_value_is_noticed() -> None:
    wrong = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "made up", None, None)
    assert doctest.DocTestRunner(verbose=False).run(wrong, out=lambda _: None).failed == 1
