"""Reducing agents for chlorine: stoichiometric and handbook amounts."""

from math import ceil
from typing import NamedTuple

from dosewright.core.chlorine import dechlorination
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import Neutraliser, neutraliser_surplus, neutralisers, peroxide_sold
from dosewright.topics.chlorine.contracts.chemistry import AgentAmount, NeutraliseAnswer, NeutraliseRequest
from dosewright.topics.chlorine.contracts.shock import NeutraliserAmount, NeutraliserName
from dosewright.topics.chlorine.page import chlorine_page

__all__ = ["caution_agents", "neutralise", "neutraliser_for"]

_STOICHIOMETRY = Basis(
    method="agent = chlorine x molar mass of the agent / (moles of Cl2 it reduces x molar mass of Cl2)",
    source="balanced reactions; IUPAC atomic weights 2021 [from memory]",
    validity="the reaction named; which reaction happens depends on pH and on the excess",
)
_PEROXIDE = "hydrogen_peroxide"
_SULFITES = frozenset({"sodium_sulfite", "sodium_bisulfite", "sodium_metabisulfite"})


class _Choice(NamedTuple):
    """The ratio to weigh out by, and its basis."""

    ratio: float
    basis: Basis


def _ratios(agent: Neutraliser) -> list[float]:
    return [float(dechlorination.stoichiometric_ratio(mass, moles)) for _, mass, moles in agent.reactions]


def _chosen(agent: Neutraliser) -> _Choice:
    handbook = agent.handbook
    if handbook is not None:
        basis = Basis(
            method=f"{handbook.ratio:g} g of {agent.title} per g of chlorine in all of the water",
            source=handbook.source,
            validity="about pH 7; for the chlorine measured at the end, otherwise the whole amount added",
        )
        return _Choice(handbook.ratio, basis)
    surplus, source = neutraliser_surplus()
    basis = Basis(
        method=f"stoichiometric amount of {agent.title} with a surplus of {surplus * 100:g} %",
        source=source,
        validity="no handbook ratio was read for this agent; test the water before discharge",
    )
    return _Choice(max(_ratios(agent)) * (1.0 + surplus), basis)


def neutraliser_for(name: NeutraliserName, volume: Numbers, left: Numbers, notes: Notes) -> NeutraliserAmount[Numbers]:
    """Return the amount of one agent for the chlorine left in a volume, and add its basis."""
    agent = neutralisers()[name]
    ratios = _ratios(agent)
    chosen = _chosen(agent)
    notes.add_basis(chosen.basis)
    _warn_reactions(agent, "neutraliser.mass", notes)
    _warn_no_handbook(agent, "neutraliser.mass", notes)
    if name == _PEROXIDE:
        sold = peroxide_sold()
        message = (
            f"The mass is for pure hydrogen peroxide, which is not sold. Of a {sold * 100:g} % solution, weigh out "
            f"{ceil(1.0 / sold)} times as much."
        )
        notes.warn("peroxide_strength", "neutraliser.mass", message)
    return NeutraliserAmount(
        agent=agent.title,
        mass=dechlorination.neutraliser_mass(volume, left, chosen.ratio),
        minimum_stoichiometric_mass=dechlorination.neutraliser_mass(volume, left, min(ratios)),
        maximum_stoichiometric_mass=dechlorination.neutraliser_mass(volume, left, max(ratios)),
    )


def _warn_reactions(agent: Neutraliser, field: str, notes: Notes) -> None:
    if len(agent.reactions) < 2:
        return
    products = ", ".join(name for name, _, _ in agent.reactions)
    message = (
        f"The reaction of {agent.title} (to {products}) depends on pH and excess, and so does the amount. Start with "
        "the handbook amount, have more ready, and check with a chlorine test."
    )
    notes.warn("neutraliser_uncertain", field, message)


def _warn_no_handbook(agent: Neutraliser, field: str, notes: Notes) -> None:
    if agent.handbook is not None:
        return
    surplus, _ = neutraliser_surplus()
    message = (
        f"There is no handbook amount for {agent.title}: the amount is that of its reaction plus {surplus * 100:g} %. "
        "Only a chlorine test shows whether it is enough."
    )
    notes.warn("no_handbook_amount", field, message)


@calculation(
    "chlorine/neutralise",
    views=Views(page=chlorine_page),
    request=NeutraliseRequest,
    answer=NeutraliseAnswer,
    summary="Reducing agent for the chlorine in a volume of water",
    example={"volume": "250 gal", "chlorine": "50 mg/L", "agent": "sodium_bisulfite", "purity": "97 %"},
)
def neutralise(ask: NeutraliseRequest[Numbers], notes: Notes) -> NeutraliseAnswer[Numbers]:
    """Mass of a reducing agent that neutralises the chlorine in a volume of water.

    The answer has a row for each possible reaction and for each handbook, since they differ: for thiosulfate by a
    factor of eight. Weigh out the handbook amount, and test the water before discharge.
    """
    chlorine_mass = ask.volume * ask.chlorine
    known = neutralisers()
    names = list(known) if ask.agent == "all" else [ask.agent]
    amounts: list[AgentAmount[Numbers]] = []
    notes.add_basis(_STOICHIOMETRY)
    for name in names:
        amounts += _side_by_side(known[name], ask, notes)
        _warn_no_handbook(known[name], "amounts.mass", notes)
        if ask.agent != "all":
            _warn_reactions(known[name], "amounts.mass", notes)
    if ask.agent == "all":
        message = (
            "The reactions of thiosulfates depend on pH and excess, and so does the amount. Start with the handbook "
            "amount, have more ready, and check with a chlorine test."
        )
        notes.warn("neutraliser_uncertain", "amounts.mass", message)
    if _PEROXIDE in names:
        message = (
            "The amount is for pure hydrogen peroxide, which is not sold. Set purity to the strength of your solution."
        )
        notes.warn("peroxide_strength", "amounts.mass", message, when=ask.purity > 0.5)
    _add_cautions(names, notes)
    return NeutraliseAnswer(chlorine_mass=chlorine_mass, amounts=amounts)


def _side_by_side(agent: Neutraliser, ask: NeutraliseRequest[Numbers], notes: Notes) -> list[AgentAmount[Numbers]]:
    rows: list[AgentAmount[Numbers]] = []

    def add(by: str, detail: str, status: str, ratio: float) -> None:
        mass = dechlorination.neutraliser_mass(ask.volume, ask.chlorine, ratio) / ask.purity
        # A ratio is one number for all rows; in the answer it has the shape of the masses.
        rows.append(
            AgentAmount(agent=agent.title, method=by, detail=detail, status=status, ratio=0.0 * mass + ratio, mass=mass)
        )

    for (product, _, _), ratio in zip(agent.reactions, _ratios(agent), strict=True):
        add("stoichiometry", f"to {product}", "computed", ratio)
    for handbook in agent.handbooks:
        add("handbook", handbook.source, "memory" if handbook.recalled else "found", handbook.ratio)
    if agent.handbook is None:
        chosen = _chosen(agent)
        add("surplus", chosen.basis.method, "computed", chosen.ratio)
        notes.add_basis(chosen.basis)
    for handbook in agent.handbooks:
        basis = Basis(
            method=f"{handbook.ratio:g} g of {agent.title} per g of chlorine",
            source=f"{handbook.source}{' [from memory]' if handbook.recalled else ''}",
            validity="about pH 7",
        )
        notes.add_basis(basis)
        lowest = min(_ratios(agent))
        message = (
            f"A recalled handbook figure for {agent.title} is below the amount of its reaction. Do not use that figure."
        )
        notes.warn("handbook_below_reaction", "amounts.mass", message, when=handbook.ratio < lowest)
    return rows


def caution_agents(names: list[str], notes: Notes) -> None:
    """Add the cautions for handling these agents."""
    notes.caution("reducing_agents")
    if not _SULFITES.isdisjoint(names):
        notes.caution("sulfite_asthma")
    if _PEROXIDE in names:
        notes.caution("hydrogen_peroxide")


def _add_cautions(names: list[str], notes: Notes) -> None:
    caution_agents(names, notes)
    notes.caution("chlorine_acid", "surface_water_discharge", "septic_load", "aquaria", "local_rules")
