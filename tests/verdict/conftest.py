"""Workspaces that several files of this folder judge."""

from __future__ import annotations

from pathlib import Path

import pytest

from clampwright import actions

DEMONSTRATIONS = ("orchard", "press", "darkbox")


@pytest.fixture(scope="session")
def folders(tmp_path_factory) -> dict[str, Path]:
    """The design of each demonstration; whoever changes one copies it first."""
    made = {name: tmp_path_factory.mktemp(name) for name in DEMONSTRATIONS}
    return {name: actions.demo_workspace(folder, name) for name, folder in made.items()}


@pytest.fixture(scope="session")
def press(folders) -> actions.Case:
    return actions.open_case(folders["press"])
