"""The orders of a proof test, from the command line to the keeper and back."""

import json

import pytest

from forebay import cli
from forebay.dispatch import proofs
from forebay.exits import Exit
from keeper.operation import proving
from keeper.protection.elements import number


def prove(capsys, *arguments):
    """Returns (exit code, stdout, stderr)."""
    code = cli.run(["dispatch", "prove", *arguments])
    return code, *capsys.readouterr()


def test_an_element_is_let_act_sooner_and_as_set_again(rig, line, capsys):
    code, out, err = prove(capsys, "--sooner", "26-MOT", "--at", "30 degC", "--port", line.port)
    assert (code, err) == (Exit.DONE, "")
    assert "26-MOT acts above 30 degC for 10 min" in out
    assert rig.keeper.proving.element == number("26-MOT")
    code, out, _ = prove(capsys, "--end", "--port", line.port, "--json")
    assert code == Exit.DONE
    assert json.loads(out)["shown"] == {"proved_element": 0}


@pytest.mark.parametrize("words", [("--try-pump",), ("--blink", "5")])
def test_what_shows_in_no_register_is_taken(rig, line, capsys, words):
    code, out, err = prove(capsys, *words, "--port", line.port)
    assert (code, err) == (Exit.DONE, "")
    assert out.startswith("done: ")
    assert (rig.keeper.proving.tries_ds >= 0) == (words[0] == "--try-pump")


@pytest.mark.parametrize(("words", "said"), [
    (("--sooner", "26-MOT"), "--at LIMIT"),
    (("--at", "30 degC"), "--at LIMIT"),
    ((), "say one of"),
    (("--blink", "3", "--end"), "say one of"),
    (("--sooner", "26-MTO", "--at", "30 degC"), "26-MOT"),
    (("--sooner", "3-SW", "--at", "30 degC"), "cannot be let act sooner"),
    (("--sooner", "26-MOT", "--at", "30 bar"), "30 bar"),
])
def test_what_is_no_order_of_a_proof_is_said_before_a_board_is_asked(capsys, words, said):
    code, out, err = prove(capsys, *words, "--port", "/dev/null")
    assert (code, out) == (Exit.INPUT, "")
    assert said in err


def test_a_limit_that_is_not_on_the_safe_side_is_refused(rig, line, capsys):
    code, _, err = prove(capsys, "--sooner", "26-MOT", "--at", "120 degC", "--port", line.port)
    assert code == Exit.INPUT
    assert "act later" in err
    assert rig.keeper.proving.element == 0


def test_the_elements_that_are_offered_are_those_that_the_keeper_takes(rig):
    for element_id, found in proofs.PROVABLE.items():
        safe = -40000 if found.acts_above else 125000
        assert rig.keeper.order(11, proving.ELEMENT + found.number, safe) == 0, element_id
