"""The words of logger files in the languages loggers speak: months, parts of the day, names of columns, units.

Names are compared folded (no accents, small letters). A registry, written once; `columns` and `stamps` read it.
"""

import re
import unicodedata
from collections.abc import Mapping
from types import MappingProxyType


def fold(text: str) -> str:
    """`text` without accents, in small letters."""
    plain = "".join(char for char in unicodedata.normalize("NFKD", text) if not unicodedata.combining(char))
    return unicodedata.normalize("NFC", plain.casefold().replace("ß", "ss").strip())


def word_set(text: str) -> frozenset[str]:
    """The words of `text`, folded."""
    return frozenset(fold(word) for word in text.split())


_MONTH_WORDS = (
    "jan january januar janvier janv enero ene gennaio gen janeiro januari styczen sty leden led tammikuu jaanuar "
    "ocak янв январь января stycznia ledna",
    "feb february februar fevrier fevr fev febrero febbraio fevereiro februari luty lut unor helmikuu veebruar "
    "subat фев февраль февраля lutego unora",
    "mar march marz maerz mrz mars marzo março marco maart mrt marzec brezen maaliskuu marts mart мар март марта "
    "marca brezna",
    "apr april avril avr abril abr aprile kwiecien kwi duben dub huhtikuu aprill nisan апр апрель апреля kwietnia "
    "dubna",
    "may mai mayo maggio mag maio mei maj kveten kve toukokuu mayis май мая maja kvetna",
    "jun june juni juin junio giugno giu junho czerwiec cze cerven kesakuu juuni haziran июн июнь июня czerwca cervna",
    "jul july juli juillet juil julio luglio lug julho lipiec lip cervenec heinakuu juuli temmuz июл июль июля "
    "lipca cervence",
    "aug august aout aou agosto ago augustus augusti sierpien sie srpen srp elokuu agustos авг август августа "
    "sierpnia srpna",
    "sep sept september septembre septiembre settembre set setembro wrzesien wrz zari syyskuu eylul сен сент "
    "сентябрь сентября wrzesnia",
    "oct october okt oktober octobre octubre ottobre ott outubro out pazdziernik paz rijen rij lokakuu oktoober "
    "ekim окт октябрь октября pazdziernika rijna",
    "nov november novembre noviembre novembro listopad lis marraskuu kasim ноя ноябрь ноября listopada listopadu",
    "dec december dez dezember decembre diciembre dic dicembre dezembro grudzien gru prosinec pro joulukuu "
    "detsember aralik дек декабрь декабря grudnia prosince",
)
MONTHS: Mapping[str, int] = MappingProxyType(
    {fold(word): number for number, words in enumerate(_MONTH_WORDS, start=1) for word in words.split()}
)
#: Before noon (0) and after noon (1).
HALVES: Mapping[str, int] = MappingProxyType(
    {
        **{fold(word): 0 for word in ["am", "a", "vorm", "上午", "午前", "오전"]},
        **{fold(word): 1 for word in ["pm", "p", "nachm", "下午", "午後", "오후"]},
    }
)
#: Zone abbreviations with one meaning. CST, IST, BST and EST have several and are asked about.
ZONES: Mapping[str, int] = MappingProxyType(
    {
        "z": 0,
        "utc": 0,
        "gmt": 0,
        "wet": 0,
        "west": 60,
        "cet": 60,
        "cest": 120,
        "mez": 60,
        "mesz": 120,
        "eet": 120,
        "eest": 180,
    }
)

#: role -> (parts of a name that give it away, whole words that do). The first role that fits wins.
_ROLE_WORDS: tuple[tuple[str, str, str], ...] = (
    ("set-point", "setpoint sollwert consigne consigna", "set sp soll target preset zadana"),
    ("alarm", "alarm alert", "limit limite grenze grenzwert threshold warning"),
    ("battery", "batter bateria akku", "batt bat vbat pile accu"),
    ("signal", "rssi signal", "snr lqi"),
    (
        "dew-point",
        "dewp taupunkt rosee rocio rugiada orvalho dauwpunt daggpunkt kastepist 露点",
        "dew dp td rosy dewpt",
    ),
    ("wet-bulb", "wetbulb feuchtkugel", "wb twb"),
    (
        "absolute-humidity",
        "absolut humidityratio mixingratio mischungsverh specifichum spezifische assoluta 絶対湿度 绝对湿度",
        "ah abs mr",
    ),
    ("vapour", "vapour vapor vpd dampfdruck", "vp svp"),
    ("derived", "heatindex windchill humidex feelslike enthalp comfort", "hi"),
    ("pressure", "pressure pression presion druck barom", "baro press hpa mbar swp kpa"),
    ("gas", "dioxide", "co co2 voc tvoc nox no2 o3 nmhc pm"),
    ("light", "light lux illumin radiat uvlight", "lx uv par"),
    ("weather", "rainfall wind niederschlag", "rain gust"),
    ("soil-moisture", "soilmoist soilwater bodenfeuchte moisture vwc", "swc"),
    ("electric", "voltage spannung", "volt volts mv v amp"),
    ("interval", "timediff interval elapsedsince", "delta dt"),
    ("occupancy", "occupancy presence", "occupied door"),
    (
        "temperature",
        "temper tempe lampotil homersekl sicakl teplot темпер 温度 溫度 気温 온도 nhietdo",
        "temp t tmp ta tair airt watert soilt tin tout tc tf degc degf celsius fahrenheit grad",
    ),
    (
        "rh",
        "humid feucht humed umid vlhk wilgot vocht luchtvoch fuktig fugtig kosteu влажн 湿度 濕度 습도",
        "rh rf hr ur hum hygro humi rv lf rlf nem hygr",
    ),
)
_ROLES = tuple(
    (role, tuple(fold(part) for part in parts.split()), word_set(whole)) for role, parts, whole in _ROLE_WORDS
)
ROLES = tuple(role for role, _, _ in _ROLES)

_TIME_PARTS = word_set(
    "timestamp datetime datum zeit fecha datahora horodat tidpunkt klockslag uhrzeit время дата 日時 时间 時間 日期 "
    "时刻 시간 temps"
)
_TIME_WORDS = word_set(
    "time date zeit datum hora heure data ora tid tijd cas czas aika pvm kello saat tarih dato day ts day "
    "clock stamp when epoch unix unixtime posix serial"
)
_ID_WORDS = word_set(
    "sensor probe channel node logger device station id serial name location place room ort raum sonde kanal "
    "capteur sonda canal fuhler geber unit_id tag mac address"
)
_TYPE_WORDS = word_set(
    "type quantity parameter variable measure measurement metric kind item property grosse messgrosse field label"
)
_INDEX_WORDS = word_set("no nr num number index record rn row line lfd count sample reading read n seq obs id")
_MAXIMA = frozenset(["max", "maximum", "highest", "hochst", "maks"])
_MINIMA = frozenset(["min", "minimum", "lowest", "tiefst"])
_SPREADS = word_set("std sd stdev dev tot total sum range count cnt")

_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_SPLIT = re.compile(r"[^\w]+|_+|(?<=[^\W\d_])(?=\d)|(?<=\d)(?=[^\W\d_])")


def tokens(name: str) -> list[str]:
    """The words of a column name: split at blanks, marks, digits and where small letters meet capitals."""
    return [word for word in _SPLIT.split(fold(_CAMEL.sub(" ", name[:400]))) if word]


def role_of(name: str) -> str:
    """What a column named so holds, or `""`."""
    words = set(tokens(name)) | set(_SPLIT.split(fold(name[:400])))
    joined = re.sub(r"[\W_]+", "", fold(name[:400]))
    for role, parts, whole in _ROLES:
        if words & whole or any(part in joined for part in parts):
            return role
    return ""


def is_time(name: str) -> bool:
    """Whether a column of this name tells when."""
    folded = fold(name[:400])
    return bool(_TIME_WORDS & set(tokens(name))) or any(part in folded for part in _TIME_PARTS)


def is_index(name: str) -> bool:
    """Whether this is the name of a running number."""
    words = tokens(name)
    return name.strip() in ("#", "№") or bool(words and set(words) <= _INDEX_WORDS)


def is_id(name: str) -> bool:
    """Whether this column names the sensor of each row."""
    return bool(_ID_WORDS & set(tokens(name)))


def is_type(name: str) -> bool:
    """Whether this column names the quantity of each row."""
    return bool(_TYPE_WORDS & set(tokens(name)))


def statistic_of(name: str) -> str:
    """`max`, `min`, `spread` for a column that summarises readings, else `""`."""
    words = set(tokens(name))
    if words & _MAXIMA:
        return "max"
    if words & _MINIMA:
        return "min"
    return "spread" if words & _SPREADS else ""
