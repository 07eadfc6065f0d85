"""From compartments and settings to plots laid out."""

from __future__ import annotations

from plotmap.layout.land import land_of
from plotmap.layout.numbers import numbers_of
from plotmap.layout.plots import plots_table
from plotmap.layout.positions import main_points, reserve_points
from plotmap.layout.tables import compartments_table, design_table, sizes_table
from plotmap.layout.variation import variation_of
from plotmap.model.layout import Ground, Pilot, PlotLayout


def plan_layout(ground: Ground, pilot: Pilot | None = None) -> PlotLayout:
    """Lay out sample plots by the settings under ``[layout]``.

    Parameters
    ----------
    ground : Ground
        Settings and compartments, without errors.
    pilot : Pilot, optional
        Earlier survey that says how much plots differ.

    Returns
    -------
    PlotLayout
        The same ground, pilot and seed give the same layout.

    Raises
    ------
    SettingsError
        The settings ask for what cannot be: see `land_of`, `variation_of`, `numbers_of`,
        `main_points`, `plots_table`.
    """
    land = land_of(ground)
    rules = ground.settings.layout
    variation = variation_of(land, rules, pilot)
    numbers = numbers_of(land, variation, ground.settings)
    main, drawn = main_points(land, numbers, rules)
    plots, walks = plots_table(ground, land, numbers, main, reserve_points(land, rules))
    compartments = compartments_table(ground, land, variation, numbers, plots)
    inputs = ground.inputs + (pilot.survey.inputs if pilot is not None else ())
    return PlotLayout(
        settings=ground.settings,
        crs=ground.crs,
        inputs=inputs,
        planned_plots=plots,
        planned_compartments=compartments,
        outlines=land.shapes,
        sample_sizes=sizes_table(ground, land, variation, numbers, compartments),
        walks=walks,
        layout_design=design_table(ground, numbers, drawn, inputs),
        findings=ground.findings,
    )
