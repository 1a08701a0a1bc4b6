"""Cautions that are printed beside operations. General reminders in our own words: no advice for a particular case.

The texts are common practice, no source, but for: rags (fire services of US towns, after NFPA), small parts and the
hour of the day (a woodworking magazine), lifting (NIOSH lifting equation), species (ACGIH, as health services list
them), nuts (a finish supplier and allergists), loudness (Popular Woodworking, April 2004, at 3 ft under load).
"""

from __future__ import annotations

from collections.abc import Iterable

#: Written for a step that needs no caution more; never printed.
NONE_NEEDED = "none needed"


#: Loudness in dBA as a magazine measured it at 3 ft: from the quieter to the louder machine.
PLANER_DBA, JOINTER_DBA, ROUTER_DBA = (99.0, 101.0), (92.0, 92.0), (93.0, 97.0)


def allowed_minutes(dba: float) -> float:
    """Minutes a day that ears may be in such a noise: 8 hours at 85 dBA, half for every 3 dB more (NIOSH 98-126, 1998)."""
    return float(480.0 / 2.0 ** ((dba - 85.0) / 3.0))


def _span(dba: tuple[float, float]) -> str:
    most, least = (f"{allowed_minutes(level):.0f}" for level in dba)
    return f"{least} to {most}" if least != most else least


_RULES = "Local codes, the manufacturers' own instructions and qualified advice come first."

#: Caution text by the key that an operation's `caution` names.
CAUTIONS: dict[str, str] = {
    "oily rags": (
        "Rags, paper, steel wool and sanding dust with drying oil on them heat up by themselves and can catch fire within "
        "hours. Never heap them or bin them. Spread each flat outdoors, away from buildings, until it is hard, then keep it "
        "under water and detergent in a lidded metal can. No outdoors? Put them into that can of water at once. Plan five "
        f"minutes for it, and follow local disposal rules. {_RULES}"
    ),
    "solvent fumes": (
        "Work in fresh air, away from flames, sparks and heaters, with gloves on; read the safety data sheet first. A dust "
        "mask stops no vapour: that takes a respirator with cartridges for it. Hardeners and epoxies can make you allergic "
        f"for good. {_RULES}"
    ),
    "table saw": (
        "Guard and riving knife on, push stick at hand, no freehand cuts; let the blade stop before you reach in. "
        f"{_RULES} Get qualified training if this is new to you."
    ),
    "cut-off saw": (
        "Hold or clamp the work to the fence, hands well clear of the blade's path and never crossed over it. Let the blade "
        "come to full speed before the cut, and let it stop before you lift it or reach for the offcut. Guard working, "
        f"plug out before the blade is changed. {_RULES}"
    ),
    "band saw": (
        "Guard down to just above the work, push stick near the blade, fingers never in line with it. Round stock rolls: hold "
        f"it in a cradle. Let the blade stop before you clear offcuts. {_RULES}"
    ),
    "jointer and planer": (
        "Guard over the cutters, push blocks in hand, fingers never over them or into the planer. Light passes, nothing "
        "shorter than the machine's least length, and nobody in line with what it may throw back. Switch off, plug out and "
        f"let it stop before you clear a jam. {_RULES}"
    ),
    "router": (
        "Feed against the rotation, begin at a starting pin, take shallow passes, clamp the work, and never trap it "
        f"between cutter and fence. Plug out before you touch the bit. {_RULES}"
    ),
    "drill": (
        "Clamp the work, or hold it against a stop: what catches spins. No gloves, loose sleeves or open hair near the bit, "
        f"and the chuck key out before you switch on. {_RULES}"
    ),
    "power tools": (
        "Plug or battery out before you change a bit, a blade or paper. Look cords over, and use a socket that trips where it "
        "may be damp. Charge batteries with their own charger, away from dust and what burns, and not unwatched; one that is "
        f"swollen or was crushed goes out of use and to the proper collection. {_RULES}"
    ),
    "hand tools": (
        "Hold the work in a vice or against a stop, cut away from yourself, and keep both hands behind the edge. A sharp "
        f"edge needs less force than a blunt one; cover edges that lie about. {_RULES}"
    ),
    "small parts": (
        "Shorter than about 12 in (300 mm): ask whether this is the right machine. Keep hands at least 3 in (75 mm) away "
        f"from the cutter; machine the long blank and cut it to length last. {_RULES}"
    ),
    "eye protection": (
        "Safety glasses closed at the sides, or a shield, wherever chips, dust or splashes may fly, for everybody near. "
        f"Ordinary glasses do not do. {_RULES}"
    ),
    "dust": (
        "Fine wood dust harms lungs and can burn. Collect it where it is made and wear a respirator for dust that fits you; "
        f"exposure limits differ from place to place. {_RULES}"
    ),
    "wood species": (
        "Dust of some woods is worse than of others: oak and beech are rated as causes of cancer, and several others "
        "are suspected or can make you allergic. Look up the species, collect the dust, wear a respirator; ask a "
        f"doctor if you react to it. {_RULES}"
    ),
    "noise": (
        f"Loud enough to harm ears for good: by the rule of NIOSH (85 dBA for 8 hours, half the time for every 3 dB more) a "
        f"planer of {PLANER_DBA[0]:.0f} to {PLANER_DBA[1]:.0f} dBA leaves {_span(PLANER_DBA)} minutes a day, a router "
        f"{_span(ROUTER_DBA)}, a jointer {_span(JOINTER_DBA)}. Wear ear protection, and so should everybody near. {_RULES}"
    ),
    "lifting": (
        "About 51 lb (23 kg) is much even in an ideal posture, and less with reach, twist or repetition. Take two "
        f"people or a cart for tops and crates. {_RULES} Ask a qualified person if your back is not sound."
    ),
    "glue-up": (
        "Mind pinch points, and do not lift a loaded stack of clamps alone. Dust of cured polyurethane and epoxy wants "
        f"a respirator. {_RULES}"
    ),
    "nut oils": (
        "Oils made from nuts, walnut oil among them, may affect people with nut allergies even on a finished piece; no study "
        "settles how far. Name the oil in the listing and on the packing slip, and tell the buyer before they order; whoever "
        f"reacts to it asks a doctor. {_RULES}"
    ),
    "fatigue": (
        'No "one more cut" late in the day: tired hands slip. Set an hour at which machine work ends, and do hand work or '
        f"tidy up after it. {_RULES}"
    ),
}


def printed_cautions(cautions: Iterable[str]) -> tuple[str, ...]:
    """The cautions of a step that are printed, in its order: keys and the user's own words."""
    return tuple(caution for caution in cautions if caution != NONE_NEEDED)


def join_cautions(cautions: Iterable[str]) -> str:
    """The cautions of a step as one text: ``"table saw; dust"``."""
    return "; ".join(printed_cautions(cautions))


def find_meant_key(words: str) -> str | None:
    """The key that a text is a part of, which is hardly meant as words of one's own: ``"planer"``; None for others."""
    wanted = set(words.casefold().split())
    known = (*CAUTIONS, NONE_NEEDED)
    if words in known:
        return None
    return next((key for key in known if wanted <= set(key.replace("-", " ").split()) | {key}), None)
