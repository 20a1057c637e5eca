"""The answers to ten questions stand on the page of each rig, in either system of units."""

import re

import pytest

from forebay import explain
from forebay import rig as rigs
from forebay.explain.saying import saying
from forebay.showing import SYSTEMS
from tests.campaign import rigs as drawn
from tests.explain.questions import QUESTIONS
from tests.pages import Page

RIGS = [rigs.load(demo=name) for name in rigs.DEMOS] + [
    rigs.load_text(drawn.drawn(seed)["toml"], "drawn") for seed in range(8)]


@pytest.fixture(scope="module", params=SYSTEMS.values(), ids=list(SYSTEMS))
def system(request):
    return request.param


@pytest.fixture(scope="module", params=RIGS, ids=lambda rig: rig.rig.name)
def told(request, system):
    """(values, how a value is said, words of the page) of a rig."""
    text = explain.page(explain.facts_of(request.param), system)
    shown = re.search(r"<body>(.*)</body>", text, re.DOTALL)
    assert shown
    words = "".join(Page(shown[1]).words)
    return request.param.plant(), saying(system), words


def test_there_are_ten_questions():
    assert len({question.text for question in QUESTIONS}) == 10


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.text)
def test_the_answer_stands_on_the_page(question, told):
    values, said, words = told
    assert question.answer(values, said) in words
