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

RIGS = [*rigs.DEMOS, *range(8)]     # by name, or by seed


@pytest.fixture(scope="module", params=SYSTEMS.values(), ids=list(SYSTEMS))
def system(request):
    return request.param


@pytest.fixture(scope="module", params=RIGS)
def told(request, system):
    """(values, how a value is said, words of the page) of a rig."""
    which = request.param
    rig = rigs.load(demo=which) if which in rigs.DEMOS else drawn.sound(which)
    text = explain.page(explain.facts_of(rig), system)
    shown = re.search(r"<body>(.*)</body>", text, re.DOTALL)
    assert shown
    words = "".join(Page(shown[1]).words)
    return rig.plant(), saying(system), words


def test_there_are_ten_questions():
    assert len({question.text for question in QUESTIONS}) == 10


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.text)
def test_the_answer_stands_on_the_page(question, told):
    values, said, words = told
    assert question.answer(values, said) in words
