"""Reads hose coefficients: the rig's own, and a flow test that gives a new one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import Coefficient, Question
from grammar.readers.base import Candidate, Span, Take, in_unit, reads


@reads("coeff_word")
def read_rig_coefficient(span: Span) -> Iterable[Candidate]:
    """ "C for 1.75", "what's the C of the two and a half"."""
    at = span.first("coeff_word")
    sizes = [i for i in span.kinds("num") if span.items[i].unit in (None, "in") and span.items[i].number <= 6]
    if (
        len(span.kinds("num")) != 1
        or not sizes
        or sizes[0] < at
        or span.items[sizes[0]].number < 1
        or span.has("pitot", "oxygen", "cylinder")
    ):
        return
    take = Take(span, at, sizes[0])
    take.terms("of_hose", "for_noise", "line", "ask_pressure", "order")
    yield take.reading(Coefficient(span.items[sizes[0]].number), cost=0.05)


@reads("coefficient", "lost_psi")
def read_coefficient(span: Span) -> Iterable[Candidate]:
    """ "150 gpm, 200 feet, 52 psi lost" — a department's own flow test."""
    if span.has("static", "residual", "pitot", "hydrant_word"):
        return  # a hydrant's flow test
    take = Take(span, *span.where("coefficient", "lost_psi"))
    feet = take.number("ft", "m")
    gpm = take.number("gpm", "lpm")
    size = None
    for i in span.kinds("num"):
        item = span.items[i]
        if not take.taken(i) and (item.unit == "in" or (item.unit is None and item.form in ("mixed", "decimal"))):
            take.mark(i)
            size = item.number
            break
    psi = take.number("psi", "bar", "kpa")
    if psi is None:
        at = span.first("lost_psi")
        psi = take.number_near(at, "psi", None, low=1, high=300) if at >= 0 and not _two_numbers(span, at) else None
    if gpm is None:
        at = span.first("flowing")
        gpm = take.number_near(at, "gpm", None, low=10, high=3000) if at >= 0 else None
    if gpm is None:
        for i in span.kinds("num"):
            if (
                not take.taken(i)
                and span.items[i].unit is None
                and i > span.lo
                and span.items[i - 1].text in ("at", "@")
                and span.items[i].number >= 20
            ):
                take.mark(i)
                gpm = in_unit(span.items[i], "gpm", None)
                break
    save = bool(take.terms("save"))
    take.terms(
        "of_hose",
        "for_noise",
        "through",
        "flowing",
        "line",
        "supply_loss",
        "flow_test_word",
        "ask_pressure",
        "coeff_word",
        "not",
        "hope",
        "exit",
        "coming_out",
    )
    said = (feet, gpm, psi)
    if None not in said:
        yield take.reading(Coefficient(size, feet, gpm, psi, save), cost=0.0)
    elif span.has("coefficient") and not span.has("pitot"):
        if size is not None and feet is None and gpm is None and psi is None:
            yield take.reading(Coefficient(size, save=save), cost=0.1)
        elif save and span.context.last and isinstance(span.context.last[-1], Coefficient):
            yield take.reading(Coefficient(save=True), cost=0.1)
        else:
            yield take.asking(
                Question(
                    "Say the hose size, the feet, the gpm and the psi lost.",
                    (),
                    Coefficient(size, feet, gpm, psi, save),
                    "flow_test",
                ),
                Coefficient.intent,
                0.15,
            )


def _two_numbers(span: Span, at: int) -> bool:
    """ "friction loss four 500 feet": the first may be a misheard word."""
    after = [k for k in range(at + 1, min(at + 4, span.hi)) if span.items[k].kind == "num"]
    return len(after) > 1 and after[1] == after[0] + 1


@reads("save")
def read_save(span: Span) -> Iterator[Candidate]:
    """ "save it" after a coefficient."""
    if span.context.last and isinstance(span.context.last[-1], Coefficient):
        yield Take(span, *span.where("save")).reading(Coefficient(save=True))
