"""Journals in folders of their own."""

import pathlib

import pytest

from keeper.journal.opening import open_journal
from tests.journal.fakes import RIG_ID, FakeKeeper

SETTINGS_VERSION = 7


@pytest.fixture
def start(tmp_path: pathlib.Path):
    """start(**settings) opens the journal in tmp_path / "j" once more and returns a keeper."""

    def start(budget_bytes=800_000, folder="j", **keeper_settings) -> FakeKeeper:
        journal = open_journal(str(tmp_path / folder), RIG_ID, SETTINGS_VERSION, budget_bytes)
        return FakeKeeper(journal, **keeper_settings)

    return start


@pytest.fixture
def folder(tmp_path: pathlib.Path) -> pathlib.Path:
    """The folder that `start` uses."""
    return tmp_path / "j"
