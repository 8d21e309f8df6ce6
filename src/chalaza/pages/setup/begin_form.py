"""Forms of a new batch: with place, machine and probe where there are none yet, with a machine to choose where there are.

What must be typed is what nobody else can know; everything else is taken as usual and says where from.
"""

from typing import Any, ClassVar

from chalaza import quantities as q
from chalaza.errors import EvidenceError
from chalaza.facts import Kind
from chalaza.intake.typed import tray_of, zone_of
from chalaza.pages.forms import Choice, Measure, Moment, Pick, Whole, Words
from chalaza.pages.setup import kinds
from chalaza.pages.setup.common import SetForm
from chalaza.pages.setup.fields import Day, KindField, Ticks, TrayField, ZoneField
from chalaza.pages.setup.slips import RUN_DEGC
from chalaza.records import models as m
from chalaza.values.evidence import Airflow, Origin, Shell
from chalaza.words import things
from chalaza.words.language import mark

DAY_S = 86_400
#: More eggs than this get one row together: nobody labels them one by one.
MOST_ROWS = 400
TRAY, NUMBERS, COUNTED = "tray", "numbers", "counted"
LABELS = {
    TRAY: mark("by their place in the tray: A1, A2, …"),
    NUMBERS: mark("by number: 1, 2, 3, …"),
    COUNTED: mark("not at all: they are counted together"),
}


#: A field that decides what is usual has that shown anew.
_SHOWS = {
    "hx-get": "/begin/usual/", "hx-trigger": "change", "hx-target": "#usual",
    "hx-include": "[name='kind'],[name='airflow'],[name='machine']",
}  # fmt: skip


class EggsForm(SetForm):
    """The eggs of a new batch. `now` is this moment, seconds UTC."""

    kind = KindField(label=mark("Kind of bird"), help_text=mark("Any name will do: hen, Pekin, guinea fowl."))
    eggs = Whole(q.EGGS, min_value=1, label=mark("Eggs set"))
    set_at = Moment(label=mark("When they went under heat"))
    batch_name = Words(max_length=80, label=mark("What you call this batch"))
    parents = Words(
        max_length=80, label=mark("Their parents"),
        help_text=mark("The name of the flock or pair. Batches of the same name share what is learnt."),
    )  # fmt: skip
    laid_first = Day(required=False, label=mark("First egg laid on"))
    laid_last = Day(required=False, label=mark("Last egg laid on"), help_text=mark("The days in store move the hatch."))
    origin = Ticks(choices=list(things.ORIGINS.items()), label=mark("Where the eggs are from"))
    shell = Ticks(choices=list(things.SHELLS.items()), label=mark("Shells under the lamp"))
    labels = Ticks(choices=list(LABELS.items()), label=mark("How the eggs are told apart"))
    tray = TrayField(
        required=False, max_length=20, label=mark("Tray"), help_text=mark("Rows by eggs in a row, such as 4x7.")
    )
    planned_temp_degc = Measure(q.TEMP_DEGC, required=False, decimals=1, label=mark("Temperature you mean to run"))
    planned_rh = Measure(q.RH, required=False, decimals=0, label=mark("Humidity you mean to run until the last days"))
    turns_per_d = Whole(
        q.TURNS_PER_D,
        required=False,
        label=mark("Turns a day, by hand"),
        help_text=mark("Empty: the machine turns them."),
    )
    wanted_young = Whole(q.YOUNG, min_value=1, required=False, label=mark("Young hoped for"))

    DEFAULTS: ClassVar[dict[str, str]] = {"origin": Origin.OWN, "shell": Shell.LIGHT, "labels": TRAY}
    #: What decides what is usual.
    ASKS: ClassVar[set[str]] = {"kind", "airflow", "machine"}
    #: Chosen already, and without a lack if left out.
    CHOSEN: ClassVar[tuple[str, ...]] = ("origin", "shell", "labels")

    def __init__(self, *args: Any, now: int, **extra: Any) -> None:
        self.now = now
        first = {name: str(value) for name, value in self.DEFAULTS.items()}
        super().__init__(*args, **{**extra, "initial": {**first, "set_at": now - now % 60, **extra.get("initial", {})}})
        for name in self.CHOSEN:
            self.fields[name].required = False
        for name in self.ASKS & self.fields.keys():
            self.fields[name].widget.attrs |= _SHOWS

    def chosen(self, name: str) -> str:
        """What was ticked, or what is usual."""
        return str(self.cleaned_data.get(name) or self.DEFAULTS[name])

    @property
    def kind_meant(self) -> Kind | None:
        """The kind typed so far, if it is one."""
        typed = str(self.data.get("kind", "")) if self.is_bound else ""
        return kinds.exact(self.voice, typed) if typed.strip() else None

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        self.clean_laid(said.get("set_at"), self._zone())
        self.ask_set(self._zone(), self.now)
        self._count()
        low, high = RUN_DEGC
        self.ask_unit(
            "planned_temp_degc", low, high, self.voice.say(mark("Eggs are kept at 36 to 39 °C. Is this right?"))
        )
        return said

    def _zone(self) -> str:
        field = self.fields["set_at"]
        return field.zone if isinstance(field, Moment) else "UTC"

    def _count(self) -> None:
        eggs, tray = self.cleaned_data.get("eggs"), self.cleaned_data.get("tray")
        wanted = self.cleaned_data.get("wanted_young")
        if eggs is None:
            return
        if tray and eggs > (places := tray_of(tray)[0] * tray_of(tray)[1]):
            holes = {"eggs": str(eggs), "places": str(places), "tray": tray}
            text = self.voice.say(
                mark("{eggs} eggs, but a tray of {tray} has {places} places. How many are they?"), holes
            )
            self.ask("eggs", text, Choice(str(places), str(places), likely=True), keep=True)
        if eggs > MOST_ROWS and self.chosen("labels") != COUNTED:
            text = mark("More than {most} eggs are counted together. Choose that, or set them as several batches.")
            self.add_error("labels", self.voice.say(text, {"most": str(MOST_ROWS)}))
        if wanted is not None and wanted > eggs:
            text = mark("{wanted} young cannot come out of {eggs} eggs.")
            self.add_error("wanted_young", self.voice.say(text, {"wanted": str(wanted), "eggs": str(eggs)}))


class FirstForm(EggsForm):
    """The first batch: its eggs, and place, machine and probe as well."""

    machine_name = Words(max_length=80, label=mark("What you call the machine"))
    airflow = Ticks(choices=list(things.AIRFLOWS.items()), label=mark("Its air"))
    probe_sort = Ticks(choices=list(things.PROBE_SORTS.items()), label=mark("What you read the temperature from"))
    height_mm = Measure(
        q.HEIGHT_MM, required=False, label=mark("Height of its tip over the egg tops"),
        help_text=mark("Counts in still air, which is warm on top. Below the tops: with a minus. May stay empty."),
    )  # fmt: skip
    place_name = Words(max_length=80, label=mark("What you call the place"))
    altitude_m = Measure(
        q.ALTITUDE_M, decimals=0, label=mark("Its altitude"),
        help_text=mark("Any map tells. 100 m more or less do no harm; 0 by the sea."),
    )  # fmt: skip
    zone = ZoneField(max_length=64, label=mark("Its time zone"))

    def __init__(self, *args: Any, **extra: Any) -> None:
        data = args[0] if args else extra.get("data")
        super().__init__(*args, **{**extra, "zone": _zone_typed(data, extra.get("zone"))})

    @property
    def airflow_meant(self) -> Airflow | None:
        """Fan or still air, if it was chosen."""
        said = str(self.data.get("airflow", "")) if self.is_bound else ""
        return Airflow(said) if said in list(Airflow) else None


def _zone_typed(data: Any, otherwise: str | None) -> str | None:
    """The zone typed in the same form, if it is one: its clock is that of the setting."""
    try:
        return zone_of(str(data.get("zone", "")))[0] if data else otherwise
    except EvidenceError:
        return otherwise


class NextForm(EggsForm):
    """Another batch, in a machine that is there."""

    machine = Pick(label=mark("The machine"))

    def __init__(self, *args: Any, machines: "list[m.Machine]", **extra: Any) -> None:
        self.machines = {one.uid: one for one in machines}
        data = args[0] if args else extra.get("data")
        wanted = (data or extra.get("initial", {})).get("machine", "")
        self.meant = self.machines.get(str(wanted))
        zone = self.meant.place.zone if self.meant is not None else machines[0].place.zone
        super().__init__(*args, **{**extra, "zone": zone})
        field = self.fields["machine"]
        if isinstance(field, Pick):
            field.choices = [("", "—"), *((one.uid, f"{one.name}, {one.place.name}") for one in machines)]

    @property
    def airflow_meant(self) -> Airflow | None:
        """Fan or still air of the machine chosen."""
        return None if self.meant is None else Airflow(self.meant.airflow)
