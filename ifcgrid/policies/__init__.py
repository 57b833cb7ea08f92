"""What counts as the better layout, as data: one TOML file a policy, each with its source."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.policy import Policy, policy_from_table

__all__ = ["list_policies", "read_policy"]


@cache
def list_policies() -> tuple[str, ...]:
    """The ids of the policies that come with the library, sorted."""
    return tuple(
        sorted(f.name.removesuffix(".toml") for f in files(__name__).iterdir() if f.name.endswith(".toml"))
    )


@cache
def read_policy(policy_id: str) -> Policy:
    """The policy of that id.

    Raises:
        SystemDataError: there is no such policy; the message lists those there are.
    """
    if policy_id not in list_policies():
        raise SystemDataError(f"no policy {policy_id!r}; choose one of {', '.join(list_policies())}")
    text = files(__name__).joinpath(f"{policy_id}.toml").read_text(encoding="utf-8")
    return policy_from_table(tomllib.loads(text))
