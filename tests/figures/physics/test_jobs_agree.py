"""The jobs that the control gives to pumps, and those that the piping rules go by, are found in two ways and agree."""

from pathlib import Path

import pytest

from figures.physics import Prepared
from figures.physics.jobs import jobs_of
from figures.plant import Plant, read_plant
from figures.plant.scheme import Scheme
from figures.reading import read
from figures.reading.rules.context import Context
from figures.reading.survey import survey

SAMPLES = sorted((Path(__file__).parents[2] / "plants").glob("*.toml"))
PLANTS = [*(read_plant(path) for path in SAMPLES), *(Scheme.random(seed).plant() for seed in range(60))]


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.title)
def test_what_a_pump_is_switched_for_is_what_it_is_judged_by(plant: Plant) -> None:
    """But for a system pump of emitters beside a tank that has its own, which rests on a DHW call as a zone pump does; and a
    straddling load's pump, whose branch the rules take away."""
    reading = read(plant)
    judged, switched = Context(survey(plant), reading).pump_jobs, jobs_of(Prepared(plant), reading)
    for pump in (part.tag for part in plant.of_kind("pump")):
        if judged.get(pump) == "system" and switched.job.get(pump) == "zone":
            loop = reading.loop_of(pump)
            assert loop is not None
            assert {load for load in loop.parts if plant.is_load(load) and not plant.is_dhw(load)} == switched.serves[pump]
            assert any(plant.is_dhw(load) for load in loop.parts if plant.is_load(load))
        elif pump in judged:
            assert switched.job.get(pump) == judged[pump], pump
        else:
            assert all(reading.loop_of(load) is None for load in switched.serves[pump]), pump
