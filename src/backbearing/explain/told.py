"""From facts and the values of one part of a plan to explanations."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backbearing.base.references import REFERENCES
from backbearing.explain.plan import Explanation, Fact

if TYPE_CHECKING:
    from collections.abc import Mapping


def told(
    facts: Mapping[str, Fact], values: Mapping[str, Any], *, within: str
) -> dict[str, Explanation]:
    """Explain every fact of one part, keyed by its name, its inputs named ``within`` the part."""
    return {
        name: Explanation(
            name=name,
            value=values[name],
            unit=fact.unit,
            meaning=fact.meaning,
            formula=fact.formula,
            inputs={key.removeprefix(within): values[key] for key in fact.inputs},
            sources=tuple(REFERENCES[key] for key in fact.sources),
        )
        for name, fact in facts.items()
    }
