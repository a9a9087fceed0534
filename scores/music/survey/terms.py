"""Words that change the tempo, in the languages that scores are printed in. Common practice."""

from __future__ import annotations

import re

# Beginnings of words: "rit" for rit., ritard., ritardando and ritenuto.
BEGINNINGS = (
    *("grave", "larg", "lent", "adagi", "andant", "moderat", "allegr", "vivac", "viviss", "presto", "prestissimo"),
    *(
        r"rit(?=\b|ard|en)",
        "rall",
        "accel",
        "string",
        "affrett",
        "slarg",
        "allarg",
        "calando",
        "smorz",
        "morendo",
        "stretto",
    ),
    *("tempo", "mosso", "animat", "rubato", "istesso", "doppio movimento", "ad lib", "a piacere", "maestoso"),
    *("langsam", "schnell", "mäßig", "mässig", "lebhaft", "bewegt", "rasch", "ruhig", "zögern", "eilen", "breiter"),
    *("cédez", "pressez", "retenu", "ralent", "modéré", "animé", "mouvement", "mouvt", "vif", "vite"),
    *("slow", "fast", "quick", "lively", "moderate", "hold back"),
)
TEMPO = re.compile(rf"(?<!\w)(?:{'|'.join(BEGINNINGS)}|vivo\b|tranquillo\b|con moto\b|più moto\b)", re.IGNORECASE)


def is_about_tempo(words: str) -> bool:
    return TEMPO.search(words) is not None
