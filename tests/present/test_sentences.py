"""Texts as they stand in a sentence."""

import pytest

from dosewright.engine.sentences import capitalised, listed


@pytest.mark.parametrize(("text", "begun"), [("iron", "Iron"), ("pH, 6.2", "pH, 6.2"), ("pKa", "pKa"), ("", "")])
def test_a_sentence_begins_with_a_capital_but_for_ph(text: str, begun: str) -> None:
    assert capitalised(text) == begun


@pytest.mark.parametrize(("texts", "told"), [(["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")])
def test_a_list_has_one_and(texts: list[str], told: str) -> None:
    assert listed(texts) == told
