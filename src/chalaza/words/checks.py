"""How a probe is checked at the kitchen table: what each way proves, how it is done, what spoils it."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza.values.evidence import CheckSort
from chalaza.words.language import mark
from chalaza.words.measures import CHECKS


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to check. `cautions` and `sources` are keys; `heat` says whether it is for a thermometer."""

    heat: bool
    title: str
    proves: str
    steps: tuple[str, ...]
    spoils: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]


WAYS: Mapping[CheckSort, Way] = MappingProxyType(
    {
        CheckSort.COMPARE: Way(
            heat=True,
            title=mark("Compare with a better thermometer"),
            proves=mark("The best single check: it is made where it counts, near 37.5 °C."),
            steps=(
                mark("Fill a wide flask with water at 37 to 38 °C."),
                mark("Hold the probe and a clinical or certified thermometer side by side in the middle."),
                mark("Stir for two minutes, read both, wait a minute and read again."),
                mark("Write down both readings. Three pairs are better than one; take their middle."),
            ),
            spoils=(
                mark("A display that does not come off: then hang the other thermometer beside its sensor, at one height."),
                mark("Water that cools while you read, a probe against the glass, an infra-red thermometer."),
            ),
            cautions=CHECKS["compare"].cautions,
            sources=("psu-temperature", "judgement"),
        ),
        CheckSort.ICE: Way(
            heat=True,
            title=mark("Check in ice water"),
            proves=mark("It proves 0 °C to a twentieth of a degree. How the probe errs at 37.5 °C it shows in part only."),
            steps=(
                mark("Crush ice of clean water, fill a cup with it and pour in just enough water to fill the gaps."),
                mark("Put the probe in the middle, 5 cm deep, away from the wall. A probe that must stay dry goes in a thin bag."),
                mark("Stir, wait three minutes and write down what it shows."),
            ),
            spoils=(
                mark("Ice cubes swimming in water: that is a degree or two, not 0 °C."),
                mark("Salt, or a probe that touches the cup."),
            ),
            cautions=CHECKS["ice"].cautions,
            sources=("ice-mc", "ice-msl", "bipm-its-90"),
        ),
        CheckSort.BOIL: Way(
            heat=True,
            title=mark("Check in boiling water"),
            proves=mark("Together with ice it shows how the probe errs between. Alone it says little at 37.5 °C."),
            steps=(
                mark("Only for probes made for it: most displays, loggers and clinical thermometers are not."),
                mark("Let clean water boil gently and hold the probe in it without touching the pot."),
                mark("Wait until it stands still and write down what it shows."),
            ),
            spoils=(
                mark("Altitude and weather: the boiling point is worked out for your place."),
                mark("A lid, salt, a fierce boil or the bottom of the pot: 0.1 to 0.3 °C too high."),
            ),
            cautions=("hot_water", "ice_only"),
            sources=("iapws-if97", "iso-2533", "practice"),
        ),
        CheckSort.SALT: Way(
            heat=False,
            title=mark("Check over wet salt"),
            proves=mark("Air over a wet salt has one humidity, whatever the hour. Two salts are better than one."),
            steps=(
                mark("Stir salt with a little water to a stiff paste in a cap, with dry grains left on top."),
                mark("Close it in a small jar or bag with the hygrometer, which must not touch the salt."),
                mark("Leave it at one temperature: an hour for a small sensor, a night for a large display."),
                mark("Write down what it shows, and the temperature in the jar."),
            ),
            spoils=(
                mark("Salt all dissolved, a large jar, a sunny sill. One degree between salt and sensor costs 5 % of the reading."),
                mark("Days in damp air: a hygrometer that was soaked reads high until it is dry again."),
            ),
            cautions=CHECKS["salt"].cautions,
            sources=("greenspan-1977", "practice"),
        ),
        CheckSort.DRY_BOX: Way(
            heat=False,
            title=mark("Check in a dry box"),
            proves=mark("Fresh drying beads take nearly all water out of the air: a rough check of the lower end."),
            steps=(
                mark("Close the hygrometer in a small tight jar with plenty of fresh, dry silica gel."),
                mark("Wait a day and write down what it shows."),
                mark("Say how dry the jar is, if you know it. Fresh beads leave a few per cent."),
            ),
            spoils=(mark("Beads that have changed colour, or a jar that is opened to look."),),
            cautions=(),
            sources=("practice",),
        ),
    }
)  # fmt: skip
