"""Contract: what ``hygro`` promises by name is there, loads on first use, and is spelled once."""

from __future__ import annotations

from types import ModuleType

import pytest

import hygro


@pytest.mark.parametrize("name", hygro.__all__)
def test_every_public_name_can_be_had(name: str) -> None:
    thing = getattr(hygro, name)
    assert thing is getattr(hygro, name)
    assert name in dir(hygro)
    if isinstance(thing, ModuleType):
        assert thing.__name__ == f"hygro.{name}"


@pytest.mark.parametrize("module", [n for n in hygro.__all__ if isinstance(getattr(hygro, n), ModuleType)])
def test_what_a_sub_package_lists_is_there(module: str) -> None:
    package = getattr(hygro, module)
    listed = getattr(package, "__all__", [])
    assert len(set(listed)) == len(listed)
    assert [name for name in listed if not hasattr(package, name)] == []


def test_names_are_listed_once_and_in_order() -> None:
    assert len(set(hygro.__all__)) == len(hygro.__all__)


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="module 'hygro' has no attribute 'simulation_of_everything'"):
        _ = hygro.simulation_of_everything
