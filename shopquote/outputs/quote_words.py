"""Words, dates and money of papers that leave the shop, in the language of the recipient, else the shop's.

Babel knows dates, digits and currency signs of any locale; the words themselves are here and, for
suppliers, in `order_words`: English, German, French and Spanish; English stands in for the rest.
"""

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from shopquote.calc.bar.section_kinds import KINDS
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import currency_digits
from shopquote.calc.pricing.cautions import BY_USE, HOLLOW
from shopquote.calc.pricing.document import QuoteDocument, SetContent
from shopquote.calc.pricing.price import DISCOUNT_LINE, MINIMUM_LINE, RUSH_LINE, SET_LINE
from shopquote.calc.pricing.priced_quote import BreakPrice, QuoteLine
from shopquote.calc.pricing.terms import (
    EXCLUDED_WHEN_FITTED,
    TERMS_WHEN_TAKEN,
    USUAL_DELIVERY,
    USUAL_LEAD_TIME,
    USUAL_TERMS,
    USUALLY_EXCLUDED,
    USUALLY_INCLUDED,
)
from shopquote.outputs.order_words import BASES, ORDER_WORDS, PHRASES

FALLBACK_LOCALE = "en_GB"
MOST_CONTENT = 30  # things named in one line of the paper

_ENGLISH = {
    "quote": "Quote",
    "revision": "Revision",
    "date": "Date",
    "valid_until": "Valid until",
    "job": "Our job",
    "due": "Wanted by",
    "for": "For",
    "tax_number": "VAT No.",
    "number": "No.",
    "what": "What",
    "quantity": "Quantity",
    "unit_price": "Unit price",
    "amount": "Amount",
    "net": "Net, before tax",
    "total": "Total to pay",
    "exempt": "Customer exempt from tax",
    "no_tax": "No tax charged",
    "breaks": "Other quantities",
    "sets": "Sets",
    "price_of_set": "Price of one set",
    "total_net": "Total before tax",
    "note": "Note",
    "included": "Included",
    "excluded": "Not included",
    "lead_time": "Lead time",
    "delivery": "Delivery",
    "deposit": "Deposit",
    "terms": "Terms",
    "deposit_words": "{pct} % of the total with the order: {amount}",
    "cautions": "Please read",
    "accept": "To order, sign and return",
    "accept_words": "We order as quoted above, on the terms above.",
    "only_jobs": "Only these jobs",
    "letter_begin": "Dear {name},",
    "letter_words": "Our quote {number} for {title} is attached. It comes to {total} "
    "and is valid until {day}.",
    "letter_close": "Kind regards",
    "name": "Name",
    "signature": "Signature",
    "order_number": "Your order number",
    "chosen": "Number of sets",
    "parts": "Parts",
    "mark": "Mark",
    "part": "Part",
    "bar": "Bar",
    "grade": "Grade",
    "per_set": "Per set",
    "size": "Overall size",
    "holes": "Holes",
    "dia": "dia",
    "tapped": "tapped",
    "countersunk": "countersunk",
    "drawing": "Drawing",
    "enquiry": "Your enquiry",
    "reamed": "reamed",
    "slotted": "slotted",
    "blind": "blind",
    "in the end": "in the end",
    "one wall": "one wall",
    "counterbored": "counterbored",
    "drifted": "drifted",
    "turned": "Ends turned",
    "threaded": "Ends threaded",
    "scroll": "Scroll",
    "volute": "Volute",
    "to_inside": "to the inside",
    "to_centre": "to the centre line",
    "to_outside": "to the outside",
    "in_set": "Each set",
    "welded": "welded",
    "fitted": "fitted on site",
    "oil": "oiled",
    "wax": "waxed",
    "paint": "painted",
    "powder": "powder coated",
    "one_coat": "1 coat",
    "coats": "{count} coats",
    "joining": "joining, finishing and packing",
    "replaces": "Replaces",
    "set_line": "complete set",
    "invented": "Invented shop and prices, for demonstration: not an offer.",
    "rush": "Rush work",
    "discount": "Discount",
    "minimum": "Minimum order charge",
    "better_none": "{sets} sets cost no more in all",
    "better_some": "{sets} sets cost only {more} more in all",
    "page_note": "Pictures show the shape and are not to scale.",
    "delivery_note": "Delivery note",
    "to": "To",
    "day": "Day",
    "of": "{some} of {all}",
    "finish": "Finish",
    "count": "Count",
    "each_mass": "{mass} each",
    "total_mass": "Total {mass}",
    "mass_in_all": "Total mass",
    "to_follow": "To follow",
    "received": "Received complete and undamaged: name, signature, date",
    "trace_list": "Trace list",
    "heat": "Heat",
    "certificate": "Certificate",
    "certificate_at": "{kind} page {page}",
    "no_certificate": "none on file",
    "no_heat": "not known",
    "trace_note": "Heats of the bars that these parts were cut from, as they were logged.",
    "trace_pages": "Pages are those of this file.",
    "lacks_certificate": "{bar}, heat {heat}: no certificate is on file.",
    "lacks_pieces": "{mark}: of {all} pieces delivered the heat of {some} is logged.",
    "lacks_parts": "Which parts were cut from a bar was not logged for all bars.",
}

_GERMAN = {
    "quote": "Angebot",
    "revision": "Fassung",
    "date": "Datum",
    "valid_until": "Gültig bis",
    "job": "Unser Auftrag",
    "due": "Gewünscht bis",
    "for": "Für",
    "tax_number": "USt-IdNr.",
    "number": "Nr.",
    "what": "Leistung",
    "quantity": "Menge",
    "unit_price": "Einzelpreis",
    "amount": "Betrag",
    "net": "Netto, vor Steuer",
    "total": "Gesamtbetrag",
    "exempt": "Kunde von der Steuer befreit",
    "no_tax": "Keine Steuer berechnet",
    "breaks": "Andere Mengen",
    "sets": "Sätze",
    "price_of_set": "Preis je Satz",
    "total_net": "Summe vor Steuer",
    "note": "Hinweis",
    "included": "Enthalten",
    "excluded": "Nicht enthalten",
    "lead_time": "Lieferzeit",
    "delivery": "Lieferung",
    "deposit": "Anzahlung",
    "terms": "Bedingungen",
    "deposit_words": "{pct} % des Gesamtbetrags bei Bestellung: {amount}",
    "cautions": "Bitte beachten",
    "accept": "Zur Bestellung unterschrieben zurücksenden",
    "accept_words": "Wir bestellen wie oben angeboten zu den genannten Bedingungen.",
    "only_jobs": "Nur diese Aufträge",
    "letter_begin": "Guten Tag, {name},",
    "letter_words": "anbei unser Angebot {number} für {title}. Es lautet auf {total} und gilt bis {day}.",
    "letter_close": "Mit freundlichen Grüßen",
    "name": "Name",
    "signature": "Unterschrift",
    "order_number": "Ihre Bestellnummer",
    "chosen": "Anzahl Sätze",
    "parts": "Teile",
    "mark": "Pos.",
    "part": "Teil",
    "bar": "Stab",
    "grade": "Werkstoff",
    "per_set": "Je Satz",
    "size": "Außenmaß",
    "holes": "Bohrungen",
    "dia": "Ø",
    "tapped": "mit Gewinde",
    "countersunk": "gesenkt",
    "drawing": "Zeichnung",
    "enquiry": "Ihre Anfrage",
    "reamed": "gerieben",
    "slotted": "Langloch",
    "blind": "Sackloch",
    "in the end": "im Stabende",
    "one wall": "eine Wand",
    "counterbored": "mit Flachsenkung",
    "drifted": "warm aufgedornt",
    "turned": "Enden gedreht",
    "threaded": "Enden mit Außengewinde",
    "scroll": "Spirale",
    "volute": "Volute",
    "to_inside": "innen gemessen",
    "to_centre": "zur Mittellinie",
    "to_outside": "außen gemessen",
    "in_set": "Je Satz",
    "welded": "geschweißt",
    "fitted": "vor Ort montiert",
    "oil": "geölt",
    "wax": "gewachst",
    "paint": "lackiert",
    "powder": "pulverbeschichtet",
    "one_coat": "1 Anstrich",
    "coats": "{count} Anstriche",
    "joining": "Fügen, Oberfläche und Verpackung",
    "replaces": "Ersetzt",
    "set_line": "kompletter Satz",
    "invented": "Erfundene Werkstatt und Preise zur Vorführung: kein Angebot.",
    "rush": "Eilzuschlag",
    "discount": "Nachlass",
    "minimum": "Mindermengenzuschlag",
    "better_none": "{sets} Sätze kosten zusammen nicht mehr",
    "better_some": "{sets} Sätze kosten zusammen nur {more} mehr",
    "page_note": "Die Bilder zeigen die Form, nicht in einem Maßstab.",
    "delivery_note": "Lieferschein",
    "to": "An",
    "day": "Tag",
    "of": "{some} von {all}",
    "finish": "Oberfläche",
    "count": "Anzahl",
    "each_mass": "{mass} je Stück",
    "total_mass": "{mass} gesamt",
    "mass_in_all": "Gesamtmasse",
    "to_follow": "Folgt noch",
    "received": "Vollständig und unbeschädigt erhalten: Name, Unterschrift, Datum",
    "trace_list": "Rückverfolgung",
    "heat": "Schmelze",
    "certificate": "Zeugnis",
    "certificate_at": "{kind} Seite {page}",
    "no_certificate": "keines vorhanden",
    "no_heat": "nicht bekannt",
    "trace_note": "Schmelzen der Stäbe, aus denen diese Teile gesägt wurden, wie aufgeschrieben.",
    "trace_pages": "Seiten sind die dieser Datei.",
    "lacks_certificate": "{bar}, Schmelze {heat}: kein Zeugnis vorhanden.",
    "lacks_pieces": "{mark}: von {all} gelieferten Stück ist die Schmelze von {some} aufgeschrieben.",
    "lacks_parts": "Nicht bei jedem Stab ist aufgeschrieben, welche Teile aus ihm gesägt wurden.",
}

_FRENCH = {
    "quote": "Devis",
    "revision": "Révision",
    "date": "Date",
    "valid_until": "Valable jusqu'au",
    "job": "Notre affaire",
    "due": "Souhaité pour",
    "for": "Pour",
    "tax_number": "N° TVA",
    "number": "N°",
    "what": "Prestation",
    "quantity": "Quantité",
    "unit_price": "Prix unitaire",
    "amount": "Montant",
    "net": "Total hors taxes",
    "total": "Total à payer",
    "exempt": "Client exonéré de taxe",
    "no_tax": "Sans taxe",
    "breaks": "Autres quantités",
    "sets": "Jeux",
    "price_of_set": "Prix d'un jeu",
    "total_net": "Total hors taxes",
    "note": "Remarque",
    "included": "Compris",
    "excluded": "Non compris",
    "lead_time": "Délai",
    "delivery": "Livraison",
    "deposit": "Acompte",
    "terms": "Conditions",
    "deposit_words": "{pct} % du total à la commande : {amount}",
    "cautions": "À lire",
    "accept": "Pour commander, signer et renvoyer",
    "accept_words": "Nous commandons selon le devis et les conditions ci-dessus.",
    "only_jobs": "Ces affaires seulement",
    "letter_begin": "Bonjour {name},",
    "letter_words": "Veuillez trouver ci-joint notre devis {number} pour {title}. "
    "Son montant est de {total} ; il est valable jusqu'au {day}.",
    "letter_close": "Cordialement",
    "name": "Nom",
    "signature": "Signature",
    "order_number": "Votre n° de commande",
    "chosen": "Nombre de jeux",
    "parts": "Pièces",
    "mark": "Repère",
    "part": "Pièce",
    "bar": "Barre",
    "grade": "Nuance",
    "per_set": "Par jeu",
    "size": "Encombrement",
    "holes": "Trous",
    "dia": "Ø",
    "tapped": "taraudé",
    "countersunk": "fraisé",
    "drawing": "Plan",
    "enquiry": "Votre demande",
    "reamed": "alésé",
    "slotted": "oblong",
    "blind": "borgne",
    "in the end": "en bout",
    "one wall": "une paroi",
    "counterbored": "lamé",
    "drifted": "ouvert à chaud au mandrin",
    "turned": "Bouts tournés",
    "threaded": "Bouts filetés",
    "scroll": "Volute",
    "volute": "Volute",
    "to_inside": "à l’intérieur",
    "to_centre": "à l’axe",
    "to_outside": "à l’extérieur",
    "in_set": "Par jeu",
    "welded": "soudé",
    "fitted": "posé sur place",
    "oil": "huilé",
    "wax": "ciré",
    "paint": "peint",
    "powder": "thermolaqué",
    "one_coat": "1 couche",
    "coats": "{count} couches",
    "joining": "assemblage, finition et emballage",
    "replaces": "Remplace",
    "set_line": "jeu complet",
    "invented": "Atelier et prix inventés, pour démonstration : ceci n'est pas une offre.",
    "rush": "Travail urgent",
    "discount": "Remise",
    "minimum": "Minimum de facturation",
    "better_none": "{sets} jeux ne coûtent pas plus en tout",
    "better_some": "{sets} jeux coûtent seulement {more} de plus",
    "page_note": "Les dessins montrent la forme, sans échelle commune.",
    "delivery_note": "Bon de livraison",
    "to": "À",
    "day": "Date",
    "of": "{some} sur {all}",
    "finish": "Finition",
    "count": "Nombre",
    "each_mass": "{mass} par pièce",
    "total_mass": "{mass} total",
    "mass_in_all": "Masse totale",
    "to_follow": "Reste à livrer",
    "received": "Reçu complet et en bon état : nom, signature, date",
    "trace_list": "Traçabilité",
    "heat": "Coulée",
    "certificate": "Certificat",
    "certificate_at": "{kind} page {page}",
    "no_certificate": "aucun",
    "no_heat": "inconnue",
    "trace_note": "Coulées des barres dont ces pièces ont été débitées, telles que notées.",
    "trace_pages": "Les pages sont celles de ce fichier.",
    "lacks_certificate": "{bar}, coulée {heat} : pas de certificat.",
    "lacks_pieces": "{mark} : la coulée de {some} des {all} pièces livrées est notée.",
    "lacks_parts": "Les pièces débitées ne sont pas notées pour toutes les barres.",
}

_SPANISH = {
    "quote": "Presupuesto",
    "revision": "Revisión",
    "date": "Fecha",
    "valid_until": "Válido hasta",
    "job": "Nuestro trabajo",
    "due": "Deseado para",
    "for": "Para",
    "tax_number": "NIF-IVA",
    "number": "N.º",
    "what": "Concepto",
    "quantity": "Cantidad",
    "unit_price": "Precio unitario",
    "amount": "Importe",
    "net": "Total sin impuestos",
    "total": "Total a pagar",
    "exempt": "Cliente exento de impuestos",
    "no_tax": "Sin impuestos",
    "breaks": "Otras cantidades",
    "sets": "Juegos",
    "price_of_set": "Precio por juego",
    "total_net": "Total sin impuestos",
    "note": "Nota",
    "included": "Incluido",
    "excluded": "No incluido",
    "lead_time": "Plazo",
    "delivery": "Entrega",
    "deposit": "Anticipo",
    "terms": "Condiciones",
    "deposit_words": "{pct} % del total con el pedido: {amount}",
    "cautions": "Léase, por favor",
    "accept": "Para pedir, firmar y devolver",
    "accept_words": "Pedimos según lo presupuestado y las condiciones.",
    "only_jobs": "Solo estos trabajos",
    "letter_begin": "Estimado cliente {name}:",
    "letter_words": "Le adjuntamos nuestro presupuesto {number} para {title}. "
    "Su importe es de {total} y es válido hasta el {day}.",
    "letter_close": "Un saludo cordial",
    "name": "Nombre",
    "signature": "Firma",
    "order_number": "Su número de pedido",
    "chosen": "Número de juegos",
    "parts": "Piezas",
    "mark": "Marca",
    "part": "Pieza",
    "bar": "Barra",
    "grade": "Calidad",
    "per_set": "Por juego",
    "size": "Medidas totales",
    "holes": "Agujeros",
    "dia": "Ø",
    "tapped": "roscado",
    "countersunk": "avellanado",
    "drawing": "Plano",
    "enquiry": "Su consulta",
    "reamed": "escariado",
    "slotted": "coliso",
    "blind": "ciego",
    "in the end": "en el extremo",
    "one wall": "una pared",
    "counterbored": "con caja cilíndrica",
    "drifted": "abierto en caliente con punzón",
    "turned": "Extremos torneados",
    "threaded": "Extremos roscados",
    "scroll": "Voluta",
    "volute": "Voluta",
    "to_inside": "por dentro",
    "to_centre": "al eje",
    "to_outside": "por fuera",
    "in_set": "Por juego",
    "welded": "soldado",
    "fitted": "montado en obra",
    "oil": "aceitado",
    "wax": "encerado",
    "paint": "pintado",
    "powder": "con pintura en polvo",
    "one_coat": "1 capa",
    "coats": "{count} capas",
    "joining": "unión, acabado y embalaje",
    "replaces": "Sustituye a",
    "set_line": "juego completo",
    "invented": "Taller y precios inventados, de demostración: no es una oferta.",
    "rush": "Trabajo urgente",
    "discount": "Descuento",
    "minimum": "Cargo por pedido mínimo",
    "better_none": "{sets} juegos no cuestan más en total",
    "better_some": "{sets} juegos cuestan solo {more} más",
    "page_note": "Los dibujos muestran la forma, sin escala común.",
    "delivery_note": "Albarán",
    "to": "A",
    "day": "Fecha",
    "of": "{some} de {all}",
    "finish": "Acabado",
    "count": "Cantidad",
    "each_mass": "{mass} por pieza",
    "total_mass": "{mass} en total",
    "mass_in_all": "Masa total",
    "to_follow": "Pendiente",
    "received": "Recibido completo y sin daños: nombre, firma, fecha",
    "trace_list": "Trazabilidad",
    "heat": "Colada",
    "certificate": "Certificado",
    "certificate_at": "{kind} página {page}",
    "no_certificate": "ninguno",
    "no_heat": "no conocida",
    "trace_note": "Coladas de las barras de las que se cortaron estas piezas, tal como se anotaron.",
    "trace_pages": "Las páginas son las de este archivo.",
    "lacks_certificate": "{bar}, colada {heat}: sin certificado.",
    "lacks_pieces": "{mark}: de {all} piezas entregadas consta la colada de {some}.",
    "lacks_parts": "No consta para todas las barras qué piezas se cortaron de ellas.",
}

_CAUTIONS_DE = {
    "guarding": "Schutzgeländer, Handläufe und Treppen folgen den örtlichen Bauvorschriften. Höhen, "
    "Abstände, Befestigung und Festigkeit wurden für dieses Angebot nicht geprüft; lassen Sie"
    " sie vor der Herstellung von einer befugten Fachperson prüfen.",
    "structural": "Die Festigkeit wurde nicht geprüft. Dieses Angebot umfasst nur Länge, Masse, Arbeit und "
    "Preis; Bauteile, Schweißnähte und Befestigungen brauchen den Nachweis einer befugten "
    "Fachperson nach örtlicher Vorschrift.",
    "lifting": "Die Festigkeit wurde nicht geprüft; eine Tragfähigkeit wird weder angegeben noch "
    "zugesichert. Heben Sie damit nicht, bevor eine befugte Fachperson das Teil bemessen, "
    "geprüft und gekennzeichnet hat und die örtlichen Regeln für Hebezeug erfüllt sind.",
    "hollow": "Geschlossene Hohlprofile können beim Erwärmen, Schweißen oder Verzinken bersten: "
    "Entlüftungs- und Ablauföffnungen sind nötig, ihr Ort ist abzustimmen.",
}
_CAUTIONS_FR = {
    "guarding": "Garde-corps, mains courantes et escaliers suivent les règles locales. Hauteurs, "
    "espacements, fixations et résistance n'ont pas été vérifiés pour ce devis ; faites-les "
    "vérifier par un professionnel habilité avant toute fabrication.",
    "structural": "La résistance n'a pas été vérifiée. Ce devis ne couvre que longueur, masse, travail et "
    "prix ; éléments, soudures et fixations demandent l'étude d'un ingénieur habilité selon "
    "les règles locales.",
    "lifting": "La résistance n'a pas été vérifiée ; aucune charge n'est donnée ni garantie. Ne levez "
    "rien avec cet objet avant qu'un ingénieur qualifié l'ait étudié, essayé et marqué et que"
    " les règles locales sur le levage soient remplies.",
    "hollow": "Des profils creux fermés peuvent éclater à la chauffe, au soudage ou à la galvanisation "
    ": des évents et trous d'écoulement sont nécessaires, leur place est à convenir.",
}
_CAUTIONS_ES = {
    "guarding": "Barandillas, pasamanos y escaleras siguen las normas locales. Alturas, huecos, "
    "fijaciones y resistencia no se han comprobado en este presupuesto; hágalos comprobar por"
    " un profesional habilitado antes de fabricar nada.",
    "structural": "No se ha comprobado la resistencia. Este presupuesto cubre solo longitud, masa, trabajo "
    "y precio; piezas, soldaduras y fijaciones necesitan el cálculo de un ingeniero "
    "habilitado según la norma local.",
    "lifting": "No se ha comprobado la resistencia; no se da ni se garantiza ninguna carga. No levante "
    "nada con este objeto hasta que un ingeniero cualificado lo haya calculado, probado y "
    "marcado y se cumplan las normas locales de elevación.",
    "hollow": "Los perfiles huecos cerrados pueden reventar al calentarse, soldarse o galvanizarse: "
    "hacen falta agujeros de ventilación y drenaje, cuyo lugar debe acordarse.",
}

# Cautions are stored in English; one that the program still has is printed in the customer's language.
CAUTIONS = {"de": _CAUTIONS_DE, "fr": _CAUTIONS_FR, "es": _CAUTIONS_ES}
_CAUTION_NAMES = {text: use for use, texts in BY_USE.items() for text in texts} | {HOLLOW: "hollow"}

# Terms are translated as long as they are those of a new shop; the shop's own words stay as typed.
TERMS = {
    "de": {
        USUAL_LEAD_TIME: "3 Wochen nach Anzahlung und freigegebener Zeichnung",
        USUAL_TERMS: "Restzahlung bei Abholung. Die Preise gelten für die genannten Mengen.",
        TERMS_WHEN_TAKEN: "Restzahlung bei Lieferung. Die Preise gelten für die genannten Mengen.",
        USUAL_DELIVERY: "Abholung ab Werkstatt; Lieferung auf Wunsch",
        USUALLY_INCLUDED: "Material, Fertigung und Oberfläche wie aufgeführt",
        USUALLY_EXCLUDED: "Statik und Planung, Genehmigungen, Aufmaß vor Ort und Montage",
        EXCLUDED_WHEN_FITTED: "Statik und Planung, Genehmigungen",
    },
    "fr": {
        USUAL_LEAD_TIME: "3 semaines après l'acompte et l'accord sur le plan",
        USUAL_TERMS: "Solde à l'enlèvement. Les prix valent pour les quantités indiquées.",
        TERMS_WHEN_TAKEN: "Solde à la livraison. Les prix valent pour les quantités indiquées.",
        USUAL_DELIVERY: "Enlèvement à l'atelier ; livraison sur demande",
        USUALLY_INCLUDED: "Matière, fabrication et finition selon la liste",
        USUALLY_EXCLUDED: "Études, autorisations, relevés sur place et pose",
        EXCLUDED_WHEN_FITTED: "Études, autorisations",
    },
    "es": {
        USUAL_LEAD_TIME: "3 semanas desde el anticipo y el plano aprobado",
        USUAL_TERMS: "Resto a la recogida. Los precios valen para las cantidades indicadas.",
        TERMS_WHEN_TAKEN: "Resto a la entrega. Los precios valen para las cantidades indicadas.",
        USUAL_DELIVERY: "Recogida en el taller; entrega a petición",
        USUALLY_INCLUDED: "Material, fabricación y acabado según lo indicado",
        USUALLY_EXCLUDED: "Cálculo, permisos, medición en obra y montaje",
        EXCLUDED_WHEN_FITTED: "Cálculo y permisos",
    },
}

# Bars are stored in English words, as in the job file.
_BAR_WORD = re.compile(
    "|".join(sorted(map(re.escape, KINDS), key=len, reverse=True)).replace("\\-", "[- ]"), re.IGNORECASE
)

# What the United States say otherwise; common practice, no source.
_AMERICAN = {
    "tax_number": "Tax ID",
    "enquiry": "Your inquiry",
    "to_centre": "to the center line",
    "Mass {mass}": "Weight {mass}",
    "mass_in_all": "Total weight",
    "ask_closing": "Please quote your price for each line and its basis (lb, cwt, foot or bar), your "
    "delivery charge and the delivery date. This is not an order.",
}

LANGUAGES = {
    language: {**words, **ORDER_WORDS[language]}
    for language, words in {"en": _ENGLISH, "de": _GERMAN, "fr": _FRENCH, "es": _SPANISH}.items()
}


@dataclass(frozen=True)
class Voice:
    """One language and one currency, in which the reader gets words, dates and amounts."""

    locale: str
    currency: str
    words: dict[str, str]

    def __getitem__(self, name: str) -> str:
        """A word or sentence of the paper by its key."""
        return self.words[name]

    def caution(self, text: str) -> str:
        """A caution in this language; an unknown one stays as it was stored."""
        return CAUTIONS.get(self.locale[:2], {}).get(_CAUTION_NAMES.get(text, ""), text)

    def term(self, text: str) -> str:
        """A term in this language if it is one of a new shop's; the shop's own stays as typed."""
        return TERMS.get(self.locale[:2], {}).get(text, text)

    def bar(self, text: str) -> str:
        """A bar in this language, such as flach 40 x 6."""
        language = self.locale[:2]

        def word(found: re.Match[str]) -> str:
            return KINDS[found[0].casefold().replace(" ", "-")].words.get(language, found[0])

        return _BAR_WORD.sub(word, text)

    def says(self, english: str) -> str:
        """A heading or phrase in this language, by its English words."""
        return self.words.get(english, english)

    def phrases(self, text: str) -> str:
        """Notes on a bar in stock lists and orders, translated by phrases; unknown ones stay as typed."""
        if text == ORDER_WORDS["en"]["usual_marking"]:
            return self["usual_marking"]
        known = PHRASES.get(self.locale[:2], {})
        return ", ".join(known.get(phrase, phrase) for phrase in text.split(", "))

    def per(self, price: str, basis: str) -> str:
        """A price with its basis, such as 1,25 je kg."""
        basis = BASES.get(self.locale[:2], {}).get(basis, basis)
        return self["per"].format(price=self.digits(price), basis=basis)

    def content(self, content: SetContent | None) -> str:
        """What one set contains, in words; empty for old quotes that did not store it."""
        if content is None:
            return ""
        coats = self["one_coat"] if content.coats == 1 else self["coats"].format(count=content.coats)
        said = [
            self["welded"] if content.welds else "",
            f"{self[content.finish]} ({coats})" if content.finish else "",
            *content.outside,
            *(f"{count} x {name}" for name, count in content.bought),
            self["fitted"] if content.fitted else "",
        ]
        said = list(filter(None, said))
        more = len(said) - MOST_CONTENT
        return "; ".join([*said[:MOST_CONTENT], f"… (+{more})"] if more > 0 else said)

    def line(self, document: QuoteDocument, line: QuoteLine) -> str:
        """The description of a line of the quote."""
        words, title = line.text, line.of or document.title
        if line.key in (RUSH_LINE, DISCOUNT_LINE, MINIMUM_LINE):
            words = self[line.key]
        elif line.key == SET_LINE:
            whole = line.text == title
            words = self["set_line" if whole else "joining"]
            if not line.of:
                return f"{title}, {words}" if whole else f"{title}: {words}"
        return f"{line.of}: {words}" if line.of else words

    def better(self, step: BreakPrice) -> str:
        """A sentence that a larger quantity costs hardly more; with the job if the quote has several."""
        words = ""
        if step.better is not None:
            larger, more = step.better
            form = self["better_none" if more <= 0 else "better_some"]
            words = form.format(sets=larger, more=self.money(more))
        return ": ".join(filter(None, (step.of, words)))

    def terms(self, document: QuoteDocument) -> Iterator[tuple[str, str]]:
        """The terms of the quote that are not empty: the key of the term's name, and its text."""
        words, deposit = document.wording, ""
        if document.deposit:
            pct, amount = self.percent(words.deposit_pct), self.money(document.deposit)
            deposit = self["deposit_words"].format(pct=pct, amount=amount)
        for name, text in (
            ("included", words.included), ("in_set", self.content(document.content)),
            ("excluded", words.excluded), ("lead_time", words.lead_time),
            ("delivery", words.delivery_term), ("deposit", deposit), ("terms", words.terms),
        ):  # fmt: skip
            if text:
                yield name, self.term(text)

    def figure(self, value: Decimal | int) -> str:
        """A plain number."""
        from babel.numbers import format_decimal

        return str(format_decimal(value, locale=self.locale))

    @property
    def decimal_sign(self) -> str:
        """The decimal sign of this language."""
        from babel.numbers import get_decimal_symbol

        return str(get_decimal_symbol(self.locale))

    def digits(self, text: str) -> str:
        """A text of digits with its point replaced by this language's decimal sign."""
        return text.replace(".", self.decimal_sign)

    def day(self, day: date) -> str:
        """A date written out."""
        from babel.dates import format_date

        return format_date(day, format="long", locale=self.locale)

    def money(self, amount: Decimal) -> str:
        """An amount with its currency, in a sentence."""
        from babel.numbers import format_currency

        text: str = format_currency(amount, self.currency, locale=self.locale, currency_digits=False,
                                    format=self._pattern)  # fmt: skip
        return text

    def percent(self, value: Decimal) -> str:
        """A percentage without the per cent sign."""
        from babel.numbers import format_decimal

        return str(format_decimal(value.normalize() + 0, locale=self.locale))

    @property
    def _pattern(self) -> str:
        from babel import Locale

        pattern = Locale.parse(self.locale).currency_formats["standard"].pattern.split(";")[0]
        digits = currency_digits(self.currency)
        return str(pattern.replace("0.00", "0" + ("." + "0" * digits if digits else "")))


def voice_of(locale: str, currency: str) -> Voice:
    """The `Voice` of a locale such as en_GB or de-AT; British English for an unknown one.

    >>> voice_of("en_US", "USD")["tax_number"], voice_of("en_GB", "GBP")["tax_number"]
    ('Tax ID', 'VAT No.')

    >>> voice_of("de_DE", "EUR").day(date(2026, 3, 2))
    '2. März 2026'
    """
    from babel import Locale, UnknownLocaleError

    try:
        known = Locale.parse(locale.replace("-", "_"))
    except (UnknownLocaleError, ValueError):
        known = Locale.parse(FALLBACK_LOCALE)
    words = LANGUAGES.get(known.language, LANGUAGES["en"])
    if (known.language, known.territory) == ("en", "US"):
        words = words | _AMERICAN
    return Voice(str(known), currency, words)
