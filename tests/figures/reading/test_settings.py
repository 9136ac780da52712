"""What the control is told: it follows the reading, and outdoor reset waits for what the drawing does not show."""

from __future__ import annotations

from figures.plant import Plant, parse_plant
from figures.plant.scheme import Scheme
from figures.reading import read
from figures.reading.settings import Need, Settings, settings


def plant(parts: str, runs: list[list[str]]) -> Plant:
    text = "format = 1\n[parts]\n" + parts
    for through in runs:
        ends = ", ".join(f'"{end}"' for end in through)
        length_m = 0.08 if through == ["A", "Z"] else 2.0    # tees A and Z stand three diameters apart
        text += f'\n[[runs]]\nthrough = [{ends}]\nsize = "NPS 1"\nlength_m = {length_m}\n'
    return parse_plant(text)


def told(parts: str, runs: list[list[str]]) -> Settings:
    return settings(read(plant(parts, runs)))


def need(found: Settings, key: str) -> Need:
    return next(each for each in found.reset if each.key == key)


RING = [["K", "P", "H", "K"]]
GUARDED = [["K", "P", "T"], ["T", "MX.hot"], ["T", "H", "S"], ["S", "MX.cold"], ["S", "XT"], ["MX.mixed", "K"]]
GUARDED_PARTS = ('K.kind = "boiler"\nP.kind = "pump"\nH.kind = "emitter"\nT.kind = "tee"\nS.kind = "tee"\n'
                 'XT.kind = "expansion tank"\nMX.kind = "mixing valve"')


def test_the_settings_say_what_the_reading_says() -> None:
    for seed in range(60):
        reading = read(Scheme.random(seed).plant())
        found = settings(reading)
        said = {line.name: line.value for line in found.lines()}
        assert said["arrangement"] == reading.arrangement
        assert said["control configuration"] == reading.control
        assert said["DHW priority"].split(",")[0] == reading.dhw_priority
        assert said["boilers"] == str(len(reading.boilers))
        assert said["lead boiler"] == (reading.lead or "not settled: mark exactly one")
        for line in found.lines():
            assert line.about == "reset" or reading.about(line.about)


def test_priority_never_goes_without_a_time_limit() -> None:
    for seed in range(60):
        found = settings(read(Scheme.random(seed).plant()))
        assert found.time_limit == (found.dhw_priority in ("always", "optional"))
        assert ("with a time limit" in found.lines()[2].value) == found.time_limit


def test_dhw_on_the_boiler_loop_has_priority_always_with_a_time_limit() -> None:
    """A tank in a row with the boiler, the building beyond close tees."""
    parts = ('K = {kind = "boiler", condensing = true}\nPK.kind = "pump"\nPS.kind = "pump"\nH.kind = "emitter"\n'
             'IT.kind = "indirect tank"\nA.kind = "tee"\nZ.kind = "tee"')
    found = told(parts, [["A", "Z"], ["K", "PK", "A"], ["A", "PS", "H", "Z"], ["Z", "IT", "K"]])
    assert found.time_limit and found.lines()[2].value == "always, with a time limit"
    override = need(found, "DHW override").evidence.says
    assert override.startswith("IT needs hot water") and "K is built to condense" in need(found, "return guard").evidence.says


def test_without_an_outdoor_sensor_there_is_no_reset() -> None:
    bare = told('K = {kind = "boiler", condensing = true}\nP.kind = "pump"\nH.kind = "emitter"', RING)
    assert need(bare, "outdoor sensor").met is False and bare.reset_allowed is False
    assert need(bare, "outdoor sensor").evidence.absent == ("outdoor sensor",)
    fitted = told('K = {kind = "boiler", condensing = true}\nP.kind = "pump"\nH.kind = "emitter"\n'
                  'TO = {kind = "temperature sensor", role = "outdoor"}', RING)
    assert need(fitted, "outdoor sensor").met is True and fitted.reset_allowed is True
    assert fitted.sensors["outdoor"] == ("TO",) and fitted.sensors["tank"] == ()


def test_a_boiler_that_may_not_condense_asks_for_a_guard_on_its_return() -> None:
    plain = need(told('K.kind = "boiler"\nP.kind = "pump"\nH.kind = "emitter"', RING), "return guard")
    assert plain.applies and plain.met is None and plain.evidence.parts == ("K",)
    assert plain.evidence.absent == ("mixing valve",) and plain.says.startswith("the return of a boiler that is not built to")
    assert plain.evidence.says.startswith("K is not built to condense, and no mixing valve")


def test_a_mixing_valve_that_feeds_the_boilers_inlet_guards_it() -> None:
    """The stub to the expansion tank joins on the way and changes nothing."""
    guard = need(told(GUARDED_PARTS, GUARDED), "return guard")
    assert guard.met is True and guard.evidence.parts == ("K", "MX")
    assert guard.evidence.says == "MX holds the return of K warm." and guard.says.startswith("the return of a boiler")


def test_a_mixing_valve_before_the_first_of_two_boilers_in_a_row_guards_that_one() -> None:
    """The second gets what the first has warmed, and is asked about."""
    parts = GUARDED_PARTS + '\nK2.kind = "boiler"'
    guard = need(told(parts, [["K", "K2", "P", "T"], *GUARDED[1:]]), "return guard")
    assert guard.met is None and guard.evidence.parts == ("K2",)


def test_a_mixing_valve_that_some_of_the_return_passes_by_guards_nothing() -> None:
    parts = GUARDED_PARTS + '\nU.kind = "tee"\nV.kind = "tee"\nG.kind = "emitter"'
    runs = [["K", "P", "U"], ["U", "T"], ["U", "G", "V"], *GUARDED[1:-1], ["MX.mixed", "V"], ["V", "K"]]
    assert need(told(parts, runs), "return guard").met is None


def test_a_tee_from_which_all_pipes_are_written_away_gives_no_water() -> None:
    """A common pipe of two pieces, both written away from a drain's tee between them: the walk back ends there, and the boiler's
    return is unguarded because the building's comes by."""
    parts = ('K.kind = "boiler"\nPK.kind = "pump"\nPS.kind = "pump"\nH.kind = "emitter"\nA.kind = "tee"\nZ.kind = "tee"\n'
             'Q.kind = "tee"\nDR.kind = "drain"')
    runs = [["K", "PK", "A"], ["A", "PS", "H", "Z"], ["Z", "K"], ["Q", "A"], ["Q", "Z"], ["Q", "DR"]]
    for order in (runs, runs[::-1]):
        found = told(parts, order)
        assert need(found, "return guard").met is None and found.control == "heating only"


def test_a_condensing_boiler_needs_no_guard() -> None:
    found = need(told('K = {kind = "boiler", condensing = true}\nP.kind = "pump"\nH.kind = "emitter"', RING),
                 "return guard")
    assert not found.applies


def test_a_low_temperature_zone_needs_a_valve_of_its_own() -> None:
    bare = need(told('K.kind = "boiler"\nP.kind = "pump"\nH = {kind = "emitter", max_supply_c = 45.0}', RING),
                "own temperature")
    assert bare.applies and bare.met is False and bare.evidence.parts == ("H",) and bare.evidence.absent == ("mixing valve",)
    parts = ('K.kind = "boiler"\nP.kind = "pump"\nPL.kind = "pump"\nT.kind = "tee"\nS.kind = "tee"\n'
             'H = {kind = "emitter", max_supply_c = 45.0}\nMX.kind = "mixing valve"')
    mixed = need(told(parts, [["K", "P", "MX.hot"], ["MX.mixed", "PL", "H", "S"], ["S", "T"], ["T", "MX.cold"],
                              ["T", "K"]]), "own temperature")
    assert mixed.applies and mixed.met is True and mixed.evidence.parts == ("H", "MX") and mixed.says == bare.says
    assert mixed.evidence.says == "MX gives H a temperature of its own."


def test_what_a_heat_exchanger_needs_beyond_is_asked_about() -> None:
    found = need(told('K.kind = "boiler"\nP.kind = "pump"\nH = {kind = "heat exchanger", serves = "heating"}', RING),
                 "own temperature")
    assert found.applies and found.met is None and found.evidence.parts == ("H",) and "temperature of its own" in found.says
    dhw = told('K.kind = "boiler"\nP.kind = "pump"\nH = {kind = "heat exchanger", serves = "DHW"}', RING)
    assert not need(dhw, "own temperature").applies and need(dhw, "DHW override").applies


def test_a_tank_asks_for_the_dhw_call_to_override_reset() -> None:
    found = need(told('K.kind = "boiler"\nP.kind = "pump"\nH.kind = "indirect tank"', RING), "DHW override")
    assert found.applies and found.met is None and found.evidence.parts == ("H",)
    assert not need(told('K.kind = "boiler"\nP.kind = "pump"\nH.kind = "emitter"', RING), "DHW override").applies


def test_an_open_reading_leaves_the_settings_open() -> None:
    """A coil fed from one loop and returned to the other."""
    parts = ('K.kind = "boiler"\nPK.kind = "pump"\nPS.kind = "pump"\nH.kind = "emitter"\nIT.kind = "indirect tank"\n'
             'A.kind = "tee"\nZ.kind = "tee"\nM.kind = "tee"\nN.kind = "tee"')
    found = told(parts, [["A", "Z"], ["K", "PK", "M"], ["M", "A"], ["M", "IT", "N"], ["A", "PS", "H", "N"],
                         ["N", "Z"], ["Z", "K"]])
    assert found.control == "undetermined" and found.dhw_priority == "undetermined" and not found.time_limit
