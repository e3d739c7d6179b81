"""What classes, types and names of a model say about a member. Used to tell ducts and insulation from framing, and to
break a tie; never against what shape and place say clearly.

The words are everyday trade terms in several languages, from memory. Compound nouns are common, so a word of five
letters or more counts wherever it stands inside a name, shorter ones only as words of their own.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from takeoff.model import MemberRole

FRAMING_CLASSES = frozenset(
    {
        "ifcmember",
        "ifcmemberstandardcase",
        "ifcbeam",
        "ifcbeamstandardcase",
        "ifccolumn",
        "ifccolumnstandardcase",
        "ifcplate",
        "ifcplatestandardcase",
        "ifcbuildingelementpart",
        "ifcelementassembly",
        "ifcbuildingelementproxy",
        "ifcbuiltelement",
        "ifcwall",
        "ifcwallstandardcase",
        "ifcwallelementedcase",
    }
)
"""Classes of which a member may be; shape and place then say what it is."""

NON_FRAMING = re.compile(
    r"ifc(flow|distribution|duct|pipe|cable|electric|sanitary|waste|stack|airterminal|airtodair|boiler|burner|chiller|coil"
    r"|communication|compressor|condenser|controller|cooling|damper|engine|evapor|fan|filter|fire|furniture|furnish"
    r"|heat|humidifier|interceptor|junctionbox|lamp|light|medical|motor|outlet|protective|pump|sensor|solar|spaceheater"
    r"|switching|tank|transformer|transport|tube|unit|valve|actuator|alarm|audio|energyconversion|mobile)"
)
"""Classes of building services, furniture and other disciplines."""

_ROLE_WORDS: tuple[tuple[MemberRole, str], ...] = (
    (
        MemberRole.BOTTOM_PLATE,
        """bottom plate, bottomplate, sole plate, soleplate, mudsill, sill plate, sillplate, bottom track, schwelle,
        lisse basse, onderregel, bunnsvill, syll, solera, podwalina, alajuoksu, dormiente, fotrem""",
    ),
    (
        MemberRole.TOP_PLATE,
        """top plate, topplate, head plate, wall plate, top track, rahm, raehm, lisse haute, sabliere, bovenregel,
        hammarband, toppsvill, carrera, oczep, ylajuoksu, banchina, toprem""",
    ),
    (
        MemberRole.HEADER,
        """header, lintel, linteau, sturz, latei, overligger, dintel, architrave, nadproze,
        ylityspalkki, overdekning""",
    ),
    (MemberRole.KING_STUD, "king, kingstud"),
    (MemberRole.JACK_STUD, "jack, jackstud, trimmer"),
    (MemberRole.CRIPPLE, "cripple"),
    (
        MemberRole.SILL,
        """window sill, rough sill, brustungsriegel, bruestungsriegel, appui, vensterbank, alfeizar, davanzale""",
    ),
    (
        MemberRole.FURRING,
        """furring, batten, lattung, tasseau, liteau, contrelatte, lakt, listel, rastrel, konterlatte, nailer""",
    ),
    (
        MemberRole.BRACE,
        """brace, bracing, strebe, diagonal, contreventement, schoor, kryssband, arriostr, zastrzal, vinotuki,
        controvent""",
    ),
    (MemberRole.BACKING, "backing, backer, hinterlegung, renfort"),
    (
        MemberRole.BLOCKING,
        """blocking, noggin, nogging, dwang, bridging, entretoise, kortling, wechsel, klossning, tussenregel, riegel,
        travesano""",
    ),
    (
        MemberRole.STUD,
        """stud, post, stiel, stander, staender, pfosten, montant, montante, stijl, stolpe, pie derecho, slupek, tolppa,
        regel, reglar""",
    ),
)
_PREDEFINED = {
    "STUD": MemberRole.STUD,
    "POST": MemberRole.STUD,
    "COLUMN": MemberRole.STUD,
    "BRACE": MemberRole.BRACE,
    "LINTEL": MemberRole.HEADER,
}
_SERVICE_WORDS = """duct, conduit, pipe, cable, junction box, outlet, socket, switchbox, drain, plumb, hvac, rohr,
    leitung, kanal, steckdose, hohlwanddose, tuyau, gaine, conduite, tuberia, conducto, leiding, buis, kabel, kanaal,
    putki, kanava, tubo, tubazione, ledning"""
_TYPED_INSULATION = frozenset({"ifccovering", "ifcbuildingelementpart"})
_INSULATION_WORDS = """insulation, insulating, mineral wool, rock wool, glass wool, cellulose, batt, fiberglass,
    fibreglass, dammung, daemmung, dammstoff, daemmstoff, mineralwolle, steinwolle, glaswolle, isolation, isolant,
    laine de, aislamiento, aislante, isolatie, steenwol, glaswol, isolering, isolasjon, mineralull, eriste, isolante,
    lana minerale, izolacja, welna"""


def plain_words(*texts: str) -> str:
    """Texts in lower case without accents, every run of other signs a single space, with a space at both ends."""
    joined = " ".join(texts).replace("ß", "ss").replace("ø", "o").replace("ł", "l")
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", joined)
    bare = "".join(sign for sign in unicodedata.normalize("NFKD", parted) if not unicodedata.combining(sign))
    return f" {re.sub(r'[^a-z0-9]+', ' ', bare.lower()).strip()} "


@lru_cache(maxsize=4096)
def role_in_words(predefined_type: str, *texts: str) -> MemberRole | None:
    """The role that a predefined type or a name tells, or None."""
    words = plain_words(*texts)
    for role, names in _ROLE_WORDS:
        if _holds(words, names):
            return role
    return _PREDEFINED.get(predefined_type.upper())


@lru_cache(maxsize=4096)
def is_service(ifc_class: str, *texts: str) -> bool:
    """True for building services and other disciplines: by class, or by name where the class says nothing."""
    name = ifc_class.lower()
    if NON_FRAMING.match(name):
        return True
    return name in {"ifcbuildingelementproxy", ""} and _holds(plain_words(*texts), _SERVICE_WORDS)


@lru_cache(maxsize=4096)
def is_insulation(ifc_class: str, predefined_type: str, *texts: str) -> bool:
    """True for insulation that is modelled as a body: it takes no room from what is to be blown in.

    By the type INSULATION of coverings (all schemas) and of building element parts (IFC4 on: thermal insulation such as
    the infill of stud walls), else by name or material.
    """
    if ifc_class.lower() in _TYPED_INSULATION and predefined_type.upper() == "INSULATION":
        return True
    return _holds(plain_words(*texts), _INSULATION_WORDS)


def _holds(words: str, names: str) -> bool:
    """Whether one of the names, parted by commas, stands in words that `plain_words` made."""
    plain = [name.strip() for name in " ".join(names.split()).split(",")]
    return any((name in words) if len(name) > 4 else (f" {name} " in words or f" {name}s " in words) for name in plain)
