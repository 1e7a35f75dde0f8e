"""The examples in the docstrings of the lab's domain are run."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import labtests.domain

MODULES = [
    "core.domain.units",
    *(
        module.name
        for module in pkgutil.walk_packages(labtests.domain.__path__, prefix="labtests.domain.")
        if not module.ispkg
    ),
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_the_module_are_right(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
