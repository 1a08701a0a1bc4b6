"""Cautions that are printed beside operations. General reminders in our own words: no advice for a particular case."""

from __future__ import annotations

_RULES = "Local codes and the makers' own instructions come first."

#: Caution text by the key that an operation's `caution` names.
CAUTIONS: dict[str, str] = {
    "oily rags": (
        "Rags wet with drying oil heat up by themselves and can catch fire within hours. Never leave them in a heap: "
        "spread each out flat outdoors, away from buildings, until it is hard, then keep it under water and detergent "
        f"in a lidded metal can. Plan five minutes for it. Follow local disposal rules. {_RULES}"
    ),
    "solvent fumes": (
        "Work in fresh air, away from flames and sparks, with gloves on; read the safety data sheet first. Hardeners "
        f"and epoxies can make you allergic for good. {_RULES}"
    ),
    "table saw": (
        "Guard and riving knife on, push stick at hand, no freehand cuts; let the blade stop before you reach in. "
        f"{_RULES} Get qualified training if this is new to you."
    ),
    "small parts": (
        "Shorter than about 12 in (300 mm): ask whether this is the right machine. Keep hands well away from the "
        f"cutter; machine the long blank and cut it to length last. {_RULES}"
    ),
    "router": (
        "Feed against the rotation, begin at a starting pin, take shallow passes, clamp the work, and never trap it "
        f"between cutter and fence. {_RULES}"
    ),
    "dust": (
        "Fine wood dust harms lungs and can burn. Collect it where it is made and wear a fitting respirator; exposure "
        f"limits differ from place to place. {_RULES}"
    ),
    "wood species": (
        "Dust of some woods is worse than of others: oak and beech are rated as causes of cancer, and several others "
        "are suspected or can make you allergic. Look up the species, collect the dust, wear a respirator; ask a "
        f"doctor if you react to it. {_RULES}"
    ),
    "noise": (
        "Planers, saws and routers are loud enough to damage hearing within a working day, some within an hour: wear "
        f"ear protection, and so should everybody near. {_RULES}"
    ),
    "lifting": (
        "About 50 lb (23 kg) is much even in an ideal posture, and less with reach, twist or repetition. Take two "
        f"people or a cart for tops and crates. {_RULES} Ask a qualified person if your back is not sound."
    ),
    "glue-up": (
        "Mind pinch points, and do not lift a loaded stack of clamps alone. Dust of cured polyurethane and epoxy wants "
        f"a respirator. {_RULES}"
    ),
    "fatigue": (
        "No one more cut late in the day: tired hands slip. Stop machine work while you are fresh, and do hand work "
        f"or tidy up instead. {_RULES}"
    ),
}
