"""What is generated from the data is fresh. `python -m tests.renew` makes it anew."""

from __future__ import annotations

from tests.renew import README, RULEBOOK, readme_text, rulebook_text


def test_the_output_in_the_readme_is_what_the_command_prints() -> None:
    assert README.read_text(encoding="utf-8") == readme_text()


def test_the_rulebook_page_is_fresh() -> None:
    assert RULEBOOK.read_text(encoding="utf-8") == rulebook_text()
