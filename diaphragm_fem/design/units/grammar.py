"""The short grammar of an amount: what may stand in a text such as "75 um", "1/8 in" or "0.05 N m/rad/m".

    amount  = number [ "/" whole ] unit
    number  = [ sign ] digits [ "." digits ] [ "e" [ sign ] digits ]
    unit    = factor { ( " " | "*" | "·" | "/" ) factor }          at most six factors
    factor  = word [ [ "^" | "**" ] [ "-" ] digit ]  |  word ( "²" | "³" )    digit from 1 to 4
    word    = up to 20 letters, "µ" and "Ω" among them  |  "%"

"/" divides by the one factor that follows. Nothing else is a unit: no brackets, no dots, no numbers, no remarks, and
a word is all that the units library is ever asked about.
"""

import re
from functools import lru_cache

from diaphragm_fem.errors import DesignError, echo

Factors = tuple[tuple[str, int], ...]  # words with their powers, in order

LONGEST = 60  # letters of an amount; "0.05 N m/rad/m" has 15
MOST_FACTORS = 6

_NUMBER = r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]{1,4})?"
_AMOUNT = re.compile(
    rf"(?P<number>{_NUMBER}) *(?:/ *(?P<divisor>[0-9]{{1,6}}) +)?(?P<unit>[^\W\d_].*|[^\w\s.,+\-*/'−–—].*)?"
)
_WORD = r"(?:[A-Za-zµμΩΩ°]{1,20}|%)"
_FACTOR = re.compile(rf"(?P<word>{_WORD})(?:(?:\^|\*\*)?(?P<power>-?[1-4])(?![0-9])|(?P<high>[²³]))?")
_BETWEEN = re.compile(r" *([*·/]) *| +")


def split_amount(text: str) -> tuple[float, str]:
    """Number and unit of an amount, the unit "" where there is none: "1/8 in" gives (0.125, "in").

    The unit has passed the grammar; whether anything is called so is not looked up here.
    Raises DesignError, without a place, saying what is wrong with the text.
    """
    text = text.strip(" ")
    if len(text) > LONGEST:
        raise DesignError(f"an amount has at most {LONGEST} letters")
    match = _AMOUNT.fullmatch(text)
    if match is None:
        raise DesignError(_complaint(text))
    number, unit = float(match["number"]), match["unit"] or ""
    if match["divisor"]:
        if int(match["divisor"]) == 0:
            raise DesignError("a number cannot be divided by zero")
        number /= int(match["divisor"])
    if unit:
        unit_factors(unit)
    return number, unit


@lru_cache(maxsize=4096)
def unit_factors(unit: str) -> Factors:
    """The words of a unit with their powers: "N m/rad" gives (("N", 1), ("m", 1), ("rad", -1)).

    Raises DesignError, without a place, for a text that the grammar above does not make.
    """
    found: list[tuple[str, int]] = []
    place, sign = 0, 1
    while len(unit) <= LONGEST and len(found) < MOST_FACTORS:
        factor = _FACTOR.match(unit, place)
        if factor is None:
            break
        power = int(factor["power"] or 0) or {"²": 2, "³": 3}.get(factor["high"] or "", 1)
        found.append((factor["word"], sign * power))
        place = factor.end()
        if place == len(unit):
            return tuple(found)
        between = _BETWEEN.match(unit, place)
        if between is None:
            break
        sign = -1 if between[1] == "/" else 1
        place = between.end()
    raise DesignError(
        f"unknown unit {echo(unit)}: a unit is written with words, * or a blank, / and powers from 1 to 4, such as "
        '"mm", "g/cm^3" or "N m/rad/m"'
    )


def _complaint(text: str) -> str:
    """What is wrong with a text that is no amount, and what was probably meant by it."""
    comma = re.fullmatch(r"([-+]?[0-9]+),([0-9]+)( *[^0-9.,].*)?", text)
    if comma:
        rest = comma[3] or ""
        parts_thousands = re.fullmatch("[-+]?[1-9][0-9]{0,2}", comma[1]) and len(comma[2]) == 3
        thousands = f' or, if the comma parts thousands, "{comma[1]}{comma[2]}{rest}"' if parts_thousands else ""
        return f'decimals are written with a point, "{comma[1]}.{comma[2]}{rest}"{thousands}'
    if text[:1] in ("−", "–", "—"):
        return 'a minus is written "-"'
    if re.match(rf"{_NUMBER}[ '_][-+]?[0-9]", text):
        return "one number is written without blanks or other marks between its digits"
    if not text.isascii() and re.match(rf"{_NUMBER}[\u00a0\u2000-\u200b\u202f]", text):
        return "the blank between number and unit is a special one; type a plain blank"
    return "not a number and its unit"
