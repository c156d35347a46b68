"""A third set of lists, labelled before the reader saw them and after it had been tuned on the first two."""

from __future__ import annotations

import io
from datetime import date

from openpyxl import Workbook

from tests.studio.importing.sheets import Sheet

NO_QUANTITY = """\
Studio kit list 2024
Item,Mfg,Ser #,Loc.,Acquired,Est. value (USD),Condition / faults
Microphones (9),,,,,,
"LM 2 (pair)",Larkmoor,"2001, 2002",Closet A,3/28/2019,"$2,400 pair",
CW Ribbon,Coldwater,R-17,Closet A,2020,$1300,NEVER PHANTOM
FL-12 x3,Fenlight,,Closet B,,$99 each,#2 rattles
kick drum mic,Fenlight,,Closet B,,$180,works
--------,,,,,,
Outboard,,,,,,
8-channel preamp,Ninefold,E-100,Rack 1,11/2/2016,"$2,350",ch. 6 dead; ch 2 scratchy pot
stereo compressor,Larkmoor,55,Rack 1,6/30/2018,$900,left side noisy
,,,,,,sent to Ray 5/12
"2 ch DI, active",Sedgeway,,Drawer,,$140,
Grand total,,,,,"$7,900",
"""
FRENCH_HIRE = """Réf.;Désignation;Marque;Qté;Tarif/jour HT;Caution;Valeur à neuf;N° de facture;Dispo;Observations
L-001;Micro voix HF 2 canaux;Orvalle;2;35,00;300,00;890,00 l'unité;F2023-114;oui;1 récepteur en panne
L-002;Console 32 voies;Tressault;1;120,00;1500,00;6 900,00;F2022-088;oui;
L-003;Enceinte active;Fontbrune;4;28,00;200,00;650,00 pce;F2021-310;non;2 chez le réparateur
L-004;Pied de micro perche;;15;2,00;15,00;39,00 pce;;oui;
L-005;DI passive;Orvalle;8;4,00;20,00;75,00 pce;F2021-311;oui;
L-006;Loué : micro à ruban TR-7;Tressault;1;40,00;500,00;1 450,00;;retour le 15/04/2026;pas d'alimentation fantôme !
"""
GERMAN_LIST = """Geräteliste Stand 03.02.2025
lfd. Nr.|Kategorie|Bezeichnung|Seriennummer|Menge|Raum|Besitzer|gekauft|Preis|Mängel
1|Mikros|Ahrnfels AK 7|00419|1|Regie|Studio|1.2.2020|1.180,00|keine
2|Mikros|Birkenlohe BD 4|ohne|5|Regie|Studio|2018|120,00 Stk|1x Korb verbeult
3|Mikros|Ahrnfels Band 2|12|1|Tresor|Frau Seiler||900,00|NIE 48 V!
4|Vorverstärker|Tiefgrund TIG-4 (4-Kanal)|4-22|1|Rack|Studio|15.06.2019|1.050,00|Kanal 3 ohne 48V, Kanal 4 Pad klemmt
5|Kabel|Klinke 3m|||Wand|Studio|||
6|Kabel|XLR 5m||ca 40|Wand|Studio|||
7|Kopfhörer|Birkenlohe BK||6|Aufnahme|Studio|2021|89,00 je|Nr. 4 links tot
8|Instrumente|Klavier|11873|1|Saal|Studio|1978|4500|verstimmt
"""
OLD_MAC = (
    "Unit\tMaker\tKind\tSerial\tHome\tNotes\r"
    "LM 2\tLarkmoor\tlarge condenser\t00012\tbooth\t“the good one” – don’t lend\r"
    "LM 2\tLarkmoor\tlarge condenser\t00013\tbooth\tnoisy since the café flood\r"
    "Squash\tColdwater\tlimiter\tn/a\track\tmeter stuck; otherwise fine\r"
    "No 5\tColdwater\tspring reverb\t5\track\tserviced March, was humming\r"
)
LAB_LOG = [
    ["When", "Which", "Channel", "What is wrong", "Reported by", "Done", "State", "Fixed on"],
    [date(2025, 9, 1), "Interface LAB002", 3, "crackles", "Mo", "cleaned", "fixed", date(2025, 9, 3)],
    [date(2025, 9, 8), "Interface LAB002", "1, 2", "no 48V", "Mo", None, "open", None],
    [date(2025, 9, 9), "Desk", "ch 5-6", "hum", "Jo", None, "waiting for parts", None],
    [date(2025, 9, 10), "Headphones 7", "left", "dead", "Jo", "thrown away", "scrapped", date(2025, 9, 10)],
]


def lab_log() -> bytes:
    book = Workbook()
    page = book.active
    assert page is not None
    for row in LAB_LOG:
        page.append(row)
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


LAST_SHEETS = [
    Sheet(
        name="a list without a quantity column, counts in names and sections",
        content=NO_QUANTITY.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter=",",
        heading_row=2,
        columns={
            "Item": "model",
            "Mfg": "maker",
            "Ser #": "serial",
            "Loc.": "place",
            "Acquired": "purchase date",
            "Est. value (USD)": "value",
            "Condition / faults": "condition",
        },
        units=2 + 1 + 3 + 1 + 1 + 1 + 1,
        skipped=frozenset({1, 3, 8, 9, 12, 14}),
        asked=frozenset({6, 10, 11}),
        not_asked_columns=frozenset({"Acquired"}),
        rows={
            4: {
                "pieces": 2,
                "serials": ["2001", "2002"],
                "value": "1200",
                "currency": "USD",
                "bought": "2019-03-28",
            },
            5: {"ban": True, "kind": "microphone", "value": "1300"},
            6: {"pieces": 3, "value": "99", "model": "FL-12"},
            7: {"kind": "microphone"},
            10: {"channels": 8, "pieces": 1, "bought": "2016-11-02", "value": "2350"},
            11: {"bought": "2018-06-30", "kind": "compressor"},
            13: {"pieces": 1, "channels": 2, "kind": "di"},
        },
        faults={6: ((),), 10: ((6,), (2,)), 11: ((),)},
        not_faults=frozenset({5, 7}),
    ),
    Sheet(
        name="a French hire shelf, rates, deposits, invoice numbers",
        content=FRENCH_HIRE.replace("\n", "\r\n").encode("utf-8-sig"),
        encodings=frozenset({"utf-8-sig"}),
        delimiter=";",
        heading_row=1,
        columns={
            "Réf.": "tag",
            "Désignation": "model",
            "Marque": "maker",
            "Qté": "quantity",
            "Tarif/jour HT": "day rate",
            "Caution": "deposit",
            "Valeur à neuf": "value",
            "N° de facture": "order number",
            "Observations": "notes",
        },
        units=2 + 1 + 4 + 15 + 8 + 1,
        skipped=frozenset(),
        asked=frozenset({2, 4}),
        may_ask=frozenset({2, 4, 6}),  # one tag for several
        rows={
            2: {"pieces": 2, "value": "890.00"},
            3: {"pieces": 1, "channels": 32, "value": "6900.00"},
            4: {"pieces": 4, "value": "650.00", "kind": "monitor"},
            5: {"pieces": 15, "stock": "stand"},
            6: {"pieces": 8, "kind": "di", "value": "75.00"},
            7: {"ban": True, "kind": "microphone", "value": "1450.00"},
        },
        faults={2: ((),), 4: ((),)},
        not_faults=frozenset({3, 7}),
    ),
    Sheet(
        name="a German list, bars, maker within the name",
        content=GERMAN_LIST.encode("cp1252"),
        encodings=frozenset({"cp1252"}),
        delimiter="|",
        heading_row=2,
        columns={
            "lfd. Nr.": "tag",
            "Kategorie": "kind",
            "Bezeichnung": "model",
            "Seriennummer": "serial",
            "Menge": "quantity",
            "Raum": "place",
            "Besitzer": "owner",
            "gekauft": "purchase date",
            "Preis": "value",
            "Mängel": "condition",
        },
        units=1 + 5 + 1 + 1 + 1 + 40 + 6 + 1,
        skipped=frozenset({1}),
        asked=frozenset({4, 6, 9, 10}),
        may_ask=frozenset({4, 7, 9}),
        rows={
            3: {"serials": ["00419"], "bought": "2020-02-01", "value": "1180.00", "owner": ""},
            4: {"pieces": 5, "serials": [], "value": "120.00"},
            5: {"ban": True, "owner": "Frau Seiler", "serials": ["12"]},
            6: {"pieces": 1, "channels": 4, "ban": False, "value": "1050.00", "kind": "preamp"},
            8: {"pieces": 40, "stock": "cable", "about": True},
            9: {"pieces": 6, "value": "89.00", "kind": "headphones"},
            10: {"kind": "instrument", "value": "4500"},
        },
        faults={4: ((),), 6: ((3,), (4,)), 9: ((),), 10: ((),)},
        not_faults=frozenset({3, 5}),
    ),
    Sheet(
        name="a list from an old computer, tabs, curly quotes, lone CR",
        content=OLD_MAC.encode("mac_roman"),
        encodings=frozenset({"mac_roman", "mac-roman"}),
        delimiter="\t",
        heading_row=1,
        columns={
            "Unit": "model",
            "Maker": "maker",
            "Kind": "kind",
            "Serial": "serial",
            "Home": "place",
            "Notes": "notes",
        },
        units=4,
        skipped=frozenset(),
        asked=frozenset({3, 4}),
        rows={
            2: {"serials": ["00012"], "remarks": ("“the good one” – don’t lend",)},
            4: {"serials": [], "kind": "limiter"},
            5: {"serials": ["5"], "kind": "effect"},
        },
        faults={3: ((),), 4: ((),)},
        not_faults=frozenset({2, 5}),
    ),
    Sheet(
        name="a lab's fault log as a workbook",
        content=lab_log(),
        encodings=frozenset({"xlsx"}),
        delimiter=None,
        heading_row=1,
        columns={
            "When": "date seen",
            "Which": "unit",
            "Channel": "channel",
            "What is wrong": "fault",
            "Reported by": "who",
            "Done": "what was done",
            "State": "state",
            "Fixed on": "date closed",
        },
        units=0,
        skipped=frozenset(),
        asked=frozenset({2, 3, 4, 5}),
        faults={2: ((3,),), 3: ((1, 2),), 4: ((5, 6),), 5: ((),)},
    ),
]
