"""The table of lays for the README: what to say and what is answered."""

from __future__ import annotations

from bot.api import Crosslay
from bot.settings import load

LAYS = (
    ("a hand line", "200 feet of inch and three quarter, third floor"),
    ("two equal lines", "two lines, 200 feet, 1.75, second floor"),
    ("lines by their names", "crosslay 1 and the rear line, third floor"),
    ("a stated flow", "250 feet of two and a half flowing 250"),
    ("a smooth bore", "200 feet of 1.75 with fifteen sixteenths"),
    ("wyed from one feed", "300 feet of 3 inch to a wye, two legs of 1.75, 100 feet each"),
    ("siamesed", "two 2.5 lines 300 feet siamesed into 100 feet of 2.5 with an inch and a quarter tip"),
    ("two sizes", "200 feet of 2.5 reduced to 100 feet of 1.75"),
    ("deck gun", "deck gun"),
    ("portable monitor", "portable monitor, two 3 inch lines, 300 feet each, 600 gpm"),
    ("aerial", "aerial master stream, 1000 gpm, 75 feet up"),
    ("standpipe", "standpipe, fourth floor, 150 feet of two and a half, inch and an eighth tip"),
    ("high-rise pack", "high rise pack, eighth floor"),
    ("sprinkler connection", "sprinkler connection"),
    ("foam", "foam line, 200 feet of inch and three quarter, 95 gpm eductor at 3 percent"),
    ("cellar nozzle", "cellar nozzle on 150 feet of two and a half"),
    ("uphill", "300 feet of two and a half, up a hill 50 feet"),
    ("flow at a pressure", "what do I flow at 150 psi with 200 feet of inch and three quarter"),
    ("longest lay", "how far can I stretch inch and three quarter at 200 psi flowing 150"),
    ("tip for a flow", "what tip for 250 gpm"),
    ("to another engine", "pumping to engine 9, 600 feet of 5 inch, 1000 gpm"),
    ("a relay", "relay with 3 engines, 3000 feet of 5 inch, 800 gpm"),
    ("hose from a hydrant", "laid 1000 feet of 5 from a hydrant with 60 psi, 500 gpm, what do I get"),
    ("a flow test", "inch and three quarter, 150 gpm, 200 feet, 52 psi lost"),
)


def rows() -> str:
    """The table in Markdown."""
    asker = Crosslay.of(load())
    table = ["| lay | say | answer |", "| --- | --- | --- |"]
    for name, sentence in LAYS:
        first, second = [*asker.answer(sentence).reply.splitlines(), ""][:2]
        table.append(f"| {name} | {sentence} | **{first}** {second} |")
    return "\n".join(table)
