"""The answers to ten questions stand on the page of each rig."""

import re

import pytest

from forebay import explain
from forebay import rig as rigs
from tests.campaign import rigs as drawn
from tests.explain.questions import QUESTIONS
from tests.pages import Page

RIGS = [rigs.load(demo=name) for name in rigs.DEMOS] + [
    rigs.load_text(drawn.drawn(seed)["toml"], "drawn") for seed in range(8)]


@pytest.fixture(scope="module", params=RIGS, ids=lambda rig: rig.rig.name)
def told(request):
    """(values, words of the page) of a rig."""
    text = explain.page(explain.facts_of(request.param))
    shown = re.search(r"<body>(.*)</body>", text, re.DOTALL)
    assert shown
    words = "".join(Page(shown[1]).words)
    return request.param.plant(), words


def test_there_are_ten_questions():
    assert len({question.text for question in QUESTIONS}) == 10


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.text)
def test_the_answer_stands_on_the_page(question, told):
    values, words = told
    assert question.answer(values) in words
