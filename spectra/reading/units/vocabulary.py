"""The words themselves, as regular expressions, in English and the larger languages of Europe.

Common practice, no source: headings as laboratories write them. What counts where is settled in ``words``.
"""

from __future__ import annotations

import re

WAVELENGTH = "wavelength"  # in um or nm: the values must tell

MINUS = "[-\N{MINUS SIGN}\N{EN DASH}\N{HYPHEN}\N{SUPERSCRIPT MINUS}]"

ONE = "[1\N{SUPERSCRIPT ONE}]"

RECIPROCAL_CM = rf"cm\s*(?:\^|\*\*)?\s*[({{]?\s*{MINUS}\s*{ONE}\s*[)}}]?|1\s*/\s*cm|per\s+cm|cm\^?1|/cm"

X_UNITS = (
    ("cm-1", RECIPROCAL_CM),
    ("um", r"micro\s*-?_?met(?:er|re)s?|mikrometer|micrometri|micr[oó]metros|microns?|[µμu]m"),
    ("nm", r"nano\s*-?_?met(?:er|re)s?|nanom[eè]tri|nan[oó]metros|nm"),
)

X_WORDS = (
    (
        "cm-1",
        r"wave\s*-?_?n(?:umber|o\.?)s?|wellenzahl(?:en)?|nombres?\s*d.\s*ondes?|n[uú]meros?\s+de\s+ondas?"
        r"|numer[oi]\s*d.\s*onda|golfgetal|v[åa]gtal|b[øo]lge(?:tal|tall)|liczba\s+falowa|волновое\s+число",
    ),
    (
        WAVELENGTH,
        r"wave\s*-?_?lengths?|wellenl(?:ä|ae)ngen?|longueurs?\s*d.\s*ondes?|longitud(?:es)?\s+de\s+onda"
        r"|lunghezz[ae]\s*d.\s*onda|comprimentos?\s+de\s+onda|golflengte|v[åa]gl(?:ä|a)ngd"
        r"|b[øo]lgel(?:æ|e)ngde|długość\s+fali|длина\s+волны",
    ),
)

# What an abscissa may be called that is no infrared axis, or one in a unit that is not read.
FOREIGN_X = (
    ("a Raman shift", r"raman"),
    (
        "a wavenumber in a unit that is not read",
        rf"(?<![^\W\d_])(?:m|mm|nm|[µμu]m)\s*(?:\^|\*\*)?\s*[({{]?\s*{MINUS}\s*{ONE}"
        r"|1\s*/\s*(?:m|mm|nm|[µμu]m)(?![a-z])",
    ),
    (
        "a wavelength in a unit that is not read",
        r"[ÅÅ](?![a-zäö])|[åa]ngstr[öo]m|[\[(/]\s*(?:mm|pm)\s*[\])]?$",
    ),
    ("an energy or a frequency", r"(?<![a-z])(?:meV|eV|keV|[TGMk]?Hz)(?![a-z])"),
    ("an optical path difference", r"path\s*difference|retardation|\bopd\b|mirror"),
    ("a time", r"(?<![a-z])(?:time|zeit|temps|tiempo|tempo)(?![a-z])|[\[(/]\s*(?:s|sec|min|ms)\s*[\])]?$"),
    ("a temperature", r"temperat|(?<![a-z])temp(?![a-z])|°\s*[cf]|[\[(/]\s*k\s*[\])]?$"),
    ("a mass or a chemical shift", r"(?<![a-z])(?:m/z|ppm|amu)(?![a-z])|chemical\s*shift"),
    ("an angle", r"2\s*-?\s*theta|2θ|degrees?\b"),
    ("a thickness", r"thickness|dicke\b"),
    ("an index", r"(?:row|line|point|pixel|index|idx|no\.?|nr\.?|#|channel|scan)"),
)

ABSORBANCE = (
    r"absorban(?:ce|cy|ces|z|zen|cia|cias|tie|cja|s|ssi)|absorb[âa]ncia|assorbanza|extinktion(?:en)?"
    r"|extinction|optical\s+density|optische\s+dichte|densit[ée]\s+optique|densidad\s+[óo]ptica"
    r"|densit[àa]\s+ottica|абсорбция|поглощение|оптическая\s+плотность"
    r"|log\s*(?:10)?\s*\(?\s*(?:1\s*/\s*[rt]|i)|-\s*(?:log|lg|ln)\s*(?:10)?\s*\(?\s*[rt]\b|ln\s*\(?\s*(?:i|1\s*/\s*t)"
)

TRANSMITTANCE = (
    r"transmittanc(?:e|es|y)|transmittan[zc]en|transmissionsgrad|durchl(?:ä|ae)ssigkeit|transmitancia"
    r"|transmit[âa]ncia|trasmittanza|transmittantie|transmitancja|transmittans|пропускание"
)

REFLECTANCE = (
    r"reflectanc(?:e|es)|reflectivity|reflexionsgrad|r[ée]flectance|reflectancia|reflect[âa]ncia"
    r"|riflettanza|reflectantie|remission|отражение"
)

# Words that name the quantity only as the whole heading, since they name techniques too.
WHOLE = (
    (
        "absorbance",
        r"absorption|absorpci[óo]n|assorbimento|absor[çc][ãa]o|absorptie|units?\s+of\s+absorption",
    ),
    ("transmittance", r"transmission|transmisi[óo]n|trasmissione|transmiss[ãa]o|transmissie"),
    ("reflectance", r"reflection|reflexion|r[ée]flexion|reflexi[óo]n|riflessione|reflex[ãa]o|reflectie"),
)

KUBELKA = r"kubelka|\(?\bk\s*[-/]\s*m\b\)?|\bf\s*\(\s*r\s*\)"

MILLI = (
    r"\bm\s*-?(?:au|abs|a\.u\.|absorbance)\b|milli\s*-?\s*(?:absorban|au\b|abs)|"
    r"10\s*\^?-3\s*(?:abs|au)|absorban\w*\s*[x×*·]\s*(?:1000|10\^?3)"
)

NAPIERIAN = r"napier|neper|base\s*-?\s*e\b|(?<![a-z])ln\s*\(?\s*(?:i|1|10|t)|natural\s+log"

PERCENT = r"%|percent|per\s*cent|prozent|pour\s*cent|por\s*cien|por\s*cento|per\s*cento|procent"

LETTER_PERCENT = (
    ("percent transmittance", r"%\s*_?-?t(?:rans\.?)?|t(?:rans\.?)?\s*(?:[\[(/]|in)?\s*%\s*[\])]?"),
    ("percent reflectance", r"%\s*_?-?r(?:efl\.?)?|r(?:efl\.?)?\s*(?:[\[(/]|in)?\s*%\s*[\])]?"),
)

# Quantities that are no absorbance, transmittance or reflectance, with the name a message gives them.
FOREIGN_Y = (
    ("a derivative", r"deriv|ableitung|d[ée]riv|^d[12]$|d[12]a\b|(?<![a-z])d\s*[²2]?\s*a\s*/\s*d"),
    (
        "an absorption coefficient",
        r"coefficient|koeffizient|coeficiente|co[eé]fficient|coefficiente|absorptivity|(?<![a-z])[αε](?![a-z])"
        r"|absorb\w*\s*[\[(/]\s*(?:cm|µm|um|mm|m)\s*\^?-",
    ),
    (
        "an absorptance",
        r"absorptance|absorptanz|absorptancia|(?:absorption|assorbimento)[^a-z]*%|%\s*absorption"
        rf"|(?<![\w.])1\s*{MINUS}\s*[TR](?![a-z])",
    ),
    ("an attenuation in decibel", r"(?<![^\W\d_])dB(?![^\W\d_])|decibel"),
    ("an optical depth", r"optical\s+depth|optische\s+tiefe|[ée]paisseur\s+optique|profundidad\s+[óo]ptica"),
    ("an emission", r"emissi|emittance|[ée]missi|radiance"),
    ("a single beam", r"single\s*-?_?\s*beam|einkanal|mono\s*-?faisceau|singlebeam|\bsbm?\b"),
    ("a background", r"\b(?:background|backgr\.?|bkg|bg|bgd|hintergrund|untergrund|fondo|arri[èe]re.plan)\b"),
    ("an interferogram", r"interfero|\bifg\b"),
    ("a Raman intensity", r"raman"),
    ("a photoacoustic signal", r"photo\s*-?acoustic"),
    ("a voltage", r"\bvolt(?:s|age)?\b|[\[(/]\s*[mµu]?v\s*[\])]?$|spannung"),
    ("an intensity", r"intensit|\bcounts?\b|\bcps\b|detector\s+signal|\bsignal\b|\badu\b|intensidad"),
    ("a temperature", r"temperat|°\s*[cf]\b|\bdeg(?:rees)?\s*c\b|\bt\s*[\[(/]\s*k\s*[\])]?$"),
    ("a mass", r"\bweight\b|\bmass\b|\btga?\b|heat\s*flow|\bmg\b|gewicht|masse\b"),
    ("a refractive index", r"refractive|brechungs|indice\s+de\s+r[ée]fraction"),
    ("a concentration", r"concentration|konzentration|\bmol/l\b"),
)

# Labels that say there is no unit, or leave it open.
NO_UNIT = (
    r"1|-+|n/?a|none|null|unknown|a\.?\s*u\.?|(?:arb|arbitr)\w*\.?(?:\s*units?)?|dimensionless|unit-?less"
    r"|ratio|fraction|units?|values?"
)

# Columns that stand beside spectra and are none.
BESIDE = (
    (
        "a standard deviation",
        r"\bstd\.?(?:ev|dev|\b)|\bst\.?\s*dev|\bsd\b|\bs\.d\.|std[_ ]|_(?:sd|std|err|error|unc)\b|\bsem\b"
        r"|standard\s*-?\s*(?:deviation|error)|standardabw|standaard\s*(?:afw|dev)|[ée]cart.type"
        r"|desviaci[óo]n|desvio|deviazione|\berrors?\b|\berr\b|uncertaint|unsicherheit|incertitude"
        r"|variance|varianz|^\s*(?:±|\+/?-)|\bsigma\b|confidence",
    ),
    ("a mask or a flag", r"\bmask\b|\bflags?\b|\bquality\b|\bvalid\b"),
)


SETTING_LINE = re.compile(
    r"[#%;!*/\s]*(?P<key>[^\W\d][^:=\t;,|]{0,30}?)\s*[:=\t;,|]+\s*(?P<value>\S.{0,60}?)[\s;,|]*"
)

BOTH_AXES = re.compile(
    r"[#%;!*/\s]*(?P<y>\S.{0,30}?)\s+(?:over|vs\.?|versus|against|gegen|über|sur)\s+(?P<x>\S.{0,30})",
    re.IGNORECASE,
)

X_KEY = r"x|x.?(?:axis|units?|label|title|data)|abscissa|units?\s*(?:of\s*)?x|xunits?|abszisse|abscisse"

Y_KEY = (
    r"y|y.?(?:axis|units?|label|title|data)|ordinate|units?\s*(?:of\s*)?y|yunits?|data\s*units?|ordonn[ée]e"
)
