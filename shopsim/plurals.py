"""Several of a thing, in English: ``boxes``, ``benches``, ``shelves``, ``chests of drawers``."""

from __future__ import annotations

#: What follows the word that changes: a *chest* of drawers, a *box* with a lid.
_JOINTS = (
    " of ", " with ", " for ", " in ", " on ", " without ", " to ", " from ", " at ", " under ", " beside ", " that ", ", ", " (",
)  # fmt: skip
_IRREGULAR = {
    "shelf": "shelves", "bookshelf": "bookshelves", "knife": "knives", "leaf": "leaves", "half": "halves",
    "loaf": "loaves", "foot": "feet", "person": "people", "man": "men", "woman": "women", "child": "children",
    "mouse": "mice", "staff": "staffs", "quiz": "quizzes", "lens": "lenses", "bus": "buses", "canvas": "canvases",
}  # fmt: skip
#: Names that only say of what sort a thing is, and so are the same for one and for several.
_SORTS = ("short", "long", "small", "big", "large", "medium", "heavy", "light", "deep", "wide", "narrow", "old", "new")


def several(name: str) -> str:
    """A name for more than one: ``trays``, ``boxes``, ``chests of drawers``. What already ends in one s stays as it is.

    Its last word changes, or the last before "of", "with" and the like; a code such as ``B-12`` or ``box 3`` stays.
    """
    for joint in _JOINTS:
        head, found, rest = name.partition(joint)
        if found and head.strip():
            return several(head) + found + rest
    if name.strip().lower() in _SORTS:
        return name
    bare = name.rstrip()
    start = max(bare.rfind(" "), bare.rfind("-")) + 1
    word = bare[start:]
    if not word or not word[-1].isalpha():
        return name
    return bare[:start] + _of_word(word)


def _of_word(word: str) -> str:
    lower = word.lower()
    if lower in _IRREGULAR:
        return word[0] + _IRREGULAR[lower][1:]
    if lower.endswith(("ss", "x", "z", "ch", "sh")):
        return f"{word}es"
    if lower.endswith("s"):
        return word
    if lower.endswith("y") and not lower.endswith(("ay", "ey", "oy", "uy")):
        return f"{word[:-1]}ies"
    return f"{word}s"


#: Names that stand for somebody without an article.
_SELVES = ("me", "myself", "i", "us", "you", "him", "her", "them")
_ARTICLES = ("the ", "my ", "our ", "a ", "an ", "his ", "her ", "their ")


def say_like(name: str) -> str:
    """A worker's name after "like": ``the maker``, ``Kim``, ``me``, ``my brother``."""
    if name.lower() in _SELVES or name.lower().startswith(_ARTICLES) or not name[:1].islower():
        return name
    return f"the {name}"


def say_more(thing: str, kind: str, added: int) -> str:
    """More of something that is no clamp: ``one more person like the maker``, ``4 more spots on the drying rack``.

    ``thing``: "worker", "rack" or "station"; ``kind``: its name in the shop; ``added``: how many more.
    """
    if thing == "rack":
        return f"{added} more {'spot' if added == 1 else 'spots'} on the {kind}"
    if thing == "worker":
        return f"{'one more person' if added == 1 else f'{added} more people'} like {say_like(kind)}"
    return f"one more {kind}" if added == 1 else f"{added} more {several(kind)}"


def say_number_of(count: int, name: str) -> str:
    """``1 box``, ``2 boxes``, ``1,537 pieces``."""
    return f"{count:,} {name if count == 1 else several(name)}"
