"""The mutation bench makes the mistakes that it says it makes, and its tables hold together."""

import ast
import builtins

import pytest

from tests.bench.mutants import __main__ as command
from tests.bench.mutants import groups, known, making, operators, watching

# What is promised: of the mutants that change behaviour so many are noticed [%].
PROMISED = {
    **dict.fromkeys(("elements", "protection", "derived", "sequence", "lockout", "orders", "light",
                     "night", "kept", "scan", "totals", "governor", "loader", "journal"), 95),
    **dict.fromkeys(("balance", "flash", "desk", "twin"), 90),
}
SOURCE = '''"""A docstring with 12 > 3."""
import os
LEAST, MOST = 3, 700


def f(value: int | None, more=2) -> int:
    """Returns 1."""
    assert value > 1
    if value is None or more < LEAST:
        raise ValueError("below %d" % (LEAST + 1))
    for one in range(more):
        if one == value:
            return one
    print("at most", MOST + 1)
    return min(value, more) + 1


if __name__ == "__main__":
    f(5)
'''


def made(source: str) -> set[tuple[str, str]]:
    return {(one.before, one.after) for one in making.mutants_of("host/a.py", source)}


def test_every_promised_group_is_there_with_its_bar():
    assert {group.name: group.bar for group in groups.GROUPS if group.bar} == PROMISED


@pytest.mark.parametrize("group", groups.GROUPS, ids=lambda group: group.name)
def test_every_file_and_test_of_a_group_is_there(group):
    for pattern in group.sources:
        assert list(groups.ROOT.glob(pattern)), pattern
    for name in (*group.tests, *group.further):
        assert (groups.ROOT / name).exists(), name


def test_every_excuse_names_a_file_of_a_group_and_a_reason():
    files = {file for group in groups.GROUPS for file in group.files()}

    assert [row for row in known.excuses() if row.file not in files] == []


@pytest.mark.parametrize("text", ['[[excuse]]\nfile = "a"\n', "[[excuse]]\n" + "\n".join(
    f'{key} = ""' for key in ("file", "within", "line", "becomes", "why"))])
def test_an_excuse_without_a_reason_is_an_error(tmp_path, text):
    path = tmp_path / "excused.toml"
    path.write_text(text)

    with pytest.raises(known.KnownError, match="excused.toml"):
        known.excuses(path)


def test_an_excuse_that_fits_no_mutant_is_seen():
    mutants = making.mutants_of("host/a.py", SOURCE)
    fits = known.Excuse("host/a.py", "f", "if one == value:", "if one != value:", "none")
    rotten = known.Excuse("host/a.py", "f", "if one == values:", "if one != values:", "none")

    assert known.unused([fits, rotten], mutants) == [rotten]
    assert sum(map(fits.fits, mutants)) == 1


@pytest.mark.parametrize("kind", operators.OURS, ids=lambda kind: kind.__name__)
def test_an_operator_makes_the_mistake_of_its_example(kind):
    for example in kind.examples():
        source, wanted = example.pre_mutation_code, example.post_mutation_code
        mutants = making.mutants_of("host/a.py", source)
        by_kind = [one.applied(source) for one in mutants if one.operator == kind.__name__]

        assert wanted in by_kind


@pytest.mark.parametrize(("before", "after"), [
    ("if value is None or more < LEAST:", "if value is None and more < LEAST:"),
    ("if value is None or more < LEAST:", "if value is None or more <= LEAST:"),
    ("if value is None or more < LEAST:", "if more < LEAST:"),
    ("if value is None or more < LEAST:", "if False:"),
    ("if value is None or more < LEAST:", "if value is None or more < MOST:"),
    ("LEAST, MOST = 3, 700", "LEAST, MOST = 3, 875"),
    ("return one", "continue"),
    ("return min(value, more) + 1", "return min(value, more) - 1"),
    ('raise ValueError("below %d" % (LEAST + 1))', "pass"),
])
def test_small_mistakes_are_made(before, after):
    assert (before, after) in made(SOURCE)


def test_words_annotations_assertions_and_what_is_run_by_hand_are_left_alone():
    changed = {before for before, _ in made(SOURCE)}

    assert not any("docstring" in text or "assert" in text or "print" in text or "def f" in text
                   and "int &" in text or "f(5)" in text for text in changed)
    assert not any("LEAST - 1" in after for _, after in made(SOURCE))


def test_a_function_says_that_it_is_called_by_the_name_that_its_mutants_have(monkeypatch):
    source = (
        "class A:\n    def f(self, n):\n        \"\"\"Doc.\"\"\"\n"
        "        def inner():\n            return n + 1\n        return inner() * 2\n"
    )
    called = []
    monkeypatch.setattr(builtins, watching.MARK, called.append, raising=False)
    tree = ast.fix_missing_locations(watching.Marker("host/a.py").visit(ast.parse(source)))
    names = {}
    exec(compile(tree, "a", "exec"), names)

    assert names["A"]().f(1) == 4
    assert names["A"].f.__doc__ == "Doc."
    mutants = making.mutants_of("host/a.py", source)
    assert all(one.in_function for one in mutants)
    assert set(called) == {f"{one.file}::{one.within}" for one in mutants}


def test_a_draw_is_repeatable_and_outlives_changes_beside_its_lines():
    def names(source):
        mutants = making.mutants_of("host/a.py", source)
        return [one.name for one in making.sample(mutants, source, 12, seed=1)]

    assert len(names(SOURCE)) == 12
    assert names(SOURCE) == names(SOURCE)
    assert names(SOURCE) == names(SOURCE.replace("import os\n", "import os\n\n# why\n"))


@pytest.mark.parametrize(("sizes", "count"), [([5, 5], 20), ([100, 300], 60), ([1, 500, 3], 60)])
def test_files_share_the_draw_by_their_size(sizes, count):
    given = making.shares(sizes, count)

    # One that has little gives one none the less.
    assert min(count, sum(sizes)) <= sum(given) < count + len(sizes)
    assert all(1 <= share <= size for share, size in zip(given, sizes, strict=True))


@pytest.mark.parametrize("words", [["nothing"], ["--count", "0"], ["--jobs", "x"], ["--what"],
                                   ["--write", "--count", "5"]])
def test_a_wrong_argument_is_one_line_and_exit_code_2(capsys, words):
    with pytest.raises(SystemExit) as ended:
        command.arguments(words)

    assert ended.value.code == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_what_was_noticed_stays_known_and_a_survivor_counts_for_the_tests_it_survived(tmp_path):
    mutant, other = making.mutants_of("host/a.py", SOURCE)[:2]
    results = known.Results(tmp_path / "results.jsonl")
    results.add(mutant, "s", "old tests", known.NOTICED, "tests/a.py::test_a")
    results.add(other, "s", "old tests", known.SURVIVED, "")
    with results.path.open("a") as file:
        file.write('{"source": "s", "na')  # a run that was broken off
    read = known.Results(results.path)

    assert read.of(mutant, "s", "new tests") == results.of(mutant, "s", "new tests") is not None
    assert read.of(other, "s", "new tests") is None
    assert read.of(other, "s", "old tests")
    assert read.of(mutant, "another source", "old tests") is None
