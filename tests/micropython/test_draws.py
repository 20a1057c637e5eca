"""What the twin draws, on the board's own interpreter: the numbers of the desktop."""

SOURCE = """
from forebay.twin.sensors import Draws


def drawn():
    for seed in (0, 1, 2, 3, 1000, 2 ** 31, 2 ** 40 + 1):
        draws = Draws(seed)
        for _ in range(20):
            yield repr(draws.uniform())
        yield repr(draws.normal())
        yield repr(draws.calibration())
"""
ON_BOARD = SOURCE + """
for number in drawn():
    print(number)
"""


def test_both_interpreters_draw_the_same_numbers(run_micropython):
    names: dict = {}
    exec(compile(SOURCE, "draws", "exec"), names)
    here = [float(number) for number in names["drawn"]()]
    board = [float(number) for number in run_micropython(ON_BOARD, sources=True).lines]
    assert board == here
