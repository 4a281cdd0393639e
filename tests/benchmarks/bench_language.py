"""What another language costs: reading its catalogue, and the first sentence that is said in it.

Rounds of ours and of the reference alternate; medians are given. The reference is the standard library's way:
the same sentences, compiled before into a gettext MO file, read by `gettext.GNUTranslations`. It can only say
again what stands in it word for word, and finds no sentence with figures in it. Beside it: `json`.
"""

from __future__ import annotations

import gettext
import io
import json
import re
import statistics
import struct
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from app import language
from app.language.catalogue import Catalogue

ROUNDS = 15
WANTED_MS = 50.0
CODE = "de"
# Composed as the program does: figures, joints, a list of many clauses, and a part that nobody knows.
FIRST = "Turn left bias to {volts:.2f} mV, then wait"
LIST = "; ".join(f"left bias as found: {{volts:.2f}} mV; right bias check: {n}.3 mV" for n in range(20))


def run(seed: int, rounds: int = ROUNDS) -> dict[str, Any]:
    """All figures, in milliseconds."""
    volts = np.random.default_rng([seed, 31]).uniform(5.0, 20.0, rounds)
    sentences = language.sentences(CODE)
    compiled, plain = _compiled(sentences), json.dumps(sentences).encode()
    found: dict[str, list[float]] = {name: [] for name in ("load", "first", "list", "gettext", "json")}
    for number in range(rounds):
        re.purge()  # patterns of the last round
        made: list[Catalogue] = []
        found["load"].append(
            _ms(
                lambda made=made: made.append(
                    Catalogue(language.sentences(CODE), language.plain_text(CODE, ","))
                )
            )
        )
        for name, text in (("first", FIRST), ("list", LIST)):
            said = text.format(volts=volts[number])
            found[name].append(_ms(lambda said=said, made=made: made[0].find(said)))
        found["gettext"].append(_ms(lambda: gettext.GNUTranslations(io.BytesIO(compiled))))
        found["json"].append(_ms(lambda: json.loads(plain)))
    median = {name: statistics.median(times) for name, times in found.items()}
    together = median["load"] + median["first"]
    return {
        "sentences": len(sentences),
        "reading the catalogue, ms": round(median["load"], 2),
        "the first sentence, ms": round(median["first"], 2),
        "together, ms": {"value": round(together, 2), "wanted": WANTED_MS, "met": together <= WANTED_MS},
        "a list of forty clauses, ms": round(median["list"], 2),
        "reference: gettext reads the same, compiled, ms": round(median["gettext"], 2),
        "reference: json reads the same, ms": round(median["json"], 2),
        "together, times gettext": round(together / median["gettext"], 2),
    }


def _ms(do: Callable[[], object]) -> float:
    begun = time.perf_counter()
    do()
    return 1e3 * (time.perf_counter() - begun)


def _compiled(sentences: dict[str, str]) -> bytes:
    """A MO file: magic number, counts, tables of length and place, the texts (GNU gettext manual, 10.3)."""
    entries = sorted([("", "Content-Type: text/plain; charset=UTF-8\n"), *sentences.items()])
    pairs = [(english.encode(), other.encode()) for english, other in entries]
    tables, texts, place = [], b"", 28 + 16 * len(pairs)
    for side in (0, 1):
        for pair in pairs:
            tables.append(struct.pack("<II", len(pair[side]), place + len(texts)))
            texts += pair[side] + b"\0"
    head = struct.pack("<IIIIIII", 0x950412DE, 0, len(pairs), 28, 28 + 8 * len(pairs), 0, 0)
    return head + b"".join(tables) + texts
