"""Lists of the kinds that houses keep, written for these tests, each with what has to be read from it.

Labelled by hand before they were first read. Makers, models, people and serials are invented. Rows are counted as
a spreadsheet program shows them, from 1.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from openpyxl import Workbook


@dataclass(frozen=True, slots=True)
class Sheet:
    """units: pieces in all. skipped, asked, errors: rows. asked_columns: headings with a question of their own.

    may_ask: rows where asking is right and not asking is right too.

    rows: facts by row: pieces, tags, serials, maker, model, kind, place, owner, bought, value, currency, stock, ban.
    faults: row to the channels named, () for a whole unit or a part of it; not_faults: rows that hold none.
    """

    name: str
    content: bytes
    encodings: frozenset[str]
    delimiter: str | None
    heading_row: int
    columns: dict[str, str]
    units: int
    skipped: frozenset[int]
    asked: frozenset[int] = frozenset()
    may_ask: frozenset[int] = frozenset()
    asked_columns: frozenset[str] = frozenset()
    not_asked_columns: frozenset[str] = frozenset()
    errors: frozenset[int] = frozenset()
    rows: dict[int, dict[str, Any]] = field(default_factory=dict)
    faults: dict[int, tuple[tuple[int, ...], ...]] = field(default_factory=dict)
    not_faults: frozenset[int] = frozenset()


FRENCH = """Parc micros et périphériques – Studio du Vallon;;;;;;;;;
;;;;;;;;;
Désignation;Marque;Modèle;N° de série;Qté;Emplacement;Prix d'achat;Date d'achat;État;Remarques
MICROS;;;;;;;;;
Statique large membrane;Orvalle;OV 50;00871;1;Armoire A;1 250,00 €;12/03/2019;OK;
Statique petite membrane;Orvalle;OV 12;3301 / 3302;2;Armoire A;780,00 € la paire;04/05/2018;bon état;appairés
Ruban;Tressault;TR-7;NC;1;Armoire B;;;RAS;JAMAIS 48V
Dynamique;Fontbrune;FB 3;;4;Armoire B;95 € pièce;2016;1 HS;
;;;;;;;;;
PÉRIPHÉRIQUES;;;;;;;;;
Préampli 4 voies;Orvalle;Quatre;4-0019;1;Rack 2;1 900,00 €;09/2015;voie 3 crachote, pas de 48V voie 4;
Compresseur;Tressault;TC-1;n° 0552;1;Rack 2;890 €;21/11/2020;en réparation depuis mars;
Sous-total;;;;;;4 915,00 €;;;
;;;;;;;;;
DIVERS;;;;;;;;;
Câble XLR 10 m;;;;20;Mur;;;;dont 3 à vérifier
Pied de micro;;;;env. 8;Mur;;;;
Casque;Fontbrune;FC 80;;6;Tiroir;49,00 €;2021;;prêté à Odile : 1 pièce
TOTAL;;;;;;9 310,00 €;;;
Mis à jour le 02/02/2025 - MB;;;;;;;;;
"""
SPANISH = (
    "Inventario aula de sonido\t\t\t\t\t\t\t\t\n"
    "Código\tAparato\tMarca\tModelo\tNº de serie\tCant.\tUbicación\tEstado\tObservaciones\n"
    "A-001\tMicro condensador\tValdeoro\tVC 2\t00231\t1\tArmario 1\tfunciona\t\n"
    "A-002\tMicro de cinta\tValdeoro\tVC Cinta\ts/n\t1\tArmario 1\tbien\tNUNCA 48V\n"
    "A-003\tMesa 16x4\tPeñalara\tPM-16\t1604-7\t1\tSala 1\tcanal 2 sin phantom, canal 9 con ruido\t\n"
    "A-004\tPrevio 2 canales\tPeñalara\tPP-2\t77\t1\tRack\tfunciona\tcambiado el canal 1 en mayo\n"
    "A-005-A-008\tCaja DI pasiva\tPeñalara\tPD\t\t4\tCajón\t1 rota\t\n"
    "A-009\tAuriculares\tMontcalmo\tMA 1\t\t12\tArmario 2\t\tfaltan 2 almohadillas\n"
    "\tCable XLR 5 m\t\t\t\t30\tPared\t\t\n"
    "\t\t\t\t\t\t\t\t\n"
    "DADOS DE BAJA\t\t\t\t\t\t\t\t\n"
    "A-010\tReverb\tPeñalara\tPR-1\tdesconocido\t1\tSótano\tpara piezas\t\n"
    "Total: 11 aparatos\t\t\t\t\t\t\t\t\n"
)
ITALIAN = (
    "Quantità;Produttore;Modello;Matricola;Posizione;Prezzo;Acquistato il;Note\r"
    "Microfoni;;;;;;;\r"
    "2;Belcolle;BC 40;0118, 0119;Armadio 1;€ 1.100,00 cad.;14/06/2017;coppia selezionata\r"
    "1;Belcolle;BC Nastro;;Armadio 1;€ 1.450,00;03/02/2020;MAI phantom!\r"
    "x3;Roccaverde;RV 58;;Armadio 2;€ 99,00 cad.;;uno ammaccato\r"
    "Outboard;;;;;;;\r"
    "1;Roccaverde;Pre 8 (8 canali);R-8-003;Rack A;€ 2.300;11/2014;canale 5 gracchia - canali 7 e 8 morti\r"
    '1;Belcolle;"Equalizzatore ""Lago""";senza;Rack A;€ 1.750,00;;\r'
    ";;;;;;;\r"
    "6;;Aste microfoniche giraffa;;Sala;;;\r"
    "1 scatola;;Batterie 9V;;Cassetto;;;\r"
    "Totale;;;;;€ 7.997,00;;\r"
)
DUTCH = """Nr.|Soort|Merk|Type|Serienr.|Aantal|Plek|Van wie|Aangeschaft|Nieuwprijs|Staat|Opmerkingen
M01|condensatormicrofoon grootmembraan|Heemvoort|HV 47|0091|1|kast 1|huis|2-3-2015|€ 1.495,-|goed|
M02|lintmicrofoon|Heemvoort|HV Lint|n.v.t.|1|kast 1|huis|17-9-2016|€ 1.150,-|klinkt dof?|NOOIT 48V
M03|dynamische microfoon|Zandlijn|ZL 5|geen|1|kast 2|Joris Kamp|||goed|gaat mee naar huis
V01|microfoonvoorversterker 2 kanalen|Zandlijn|Duo|22-418|1|rack|huis|2018|€ 640,-|kanaal 2 kraakt|
V02|compressor|Heemvoort|Knijp|118|1|uitgeleend|huis|2019|€ 720,-|goed|uitgeleend aan Pim sinds 4 mei
|xlr kabel 3 m|||  |ca. 15|haak|huis||||
|koptelefoon|Zandlijn|ZK||?|lade|huis|||goed|
Totaal|||||||||€ 4.005,-||
"""
HIRE = """Hire shelf,,,,,,,,,
Code,Item,Make,Qty,Day rate,Deposit,New price,Order no,Status,Comments
HS-01,Valve mic,Larkmoor,1,45.00,400.00,"2,950.00",PO 11873,in,with supply and case
HS-02,Stereo pair SDC,Larkmoor,pr,30.00,200.00,980.00 the pair,PO 11873,in,
HS-03,8 channel pre,Coldwater,1,35.00,250.00,"1,600.00",PO 12004,out to Fenwick Hall until 14/03/2025,ch 2 noisy
HS-04,Radio mic kit,Coldwater,2,25.00,150.00,640.00 each,PO 12004,in,one receiver dead
,,,,,,,,,
Code,Item,Make,Qty,Day rate,Deposit,New price,Order no,Status,Comments
HS-05,Power amp,Coldwater,1,28.00,250.00,"1,120.00",PO 12110,in,repair cost £85 last year
HS-06,Loudspeaker,Larkmoor,4,18.00,100.00,410.00 each,PO 12110,in,
HS-07,Mic stand tall,,10,2.00,10.00,39.00 each,,in,
HS-08,DI box active,Coldwater,6,5.00,30.00,120.00 each,,5 in / 1 missing,
Totals,,,26,,,,,,
"""
LOG = """Datum;Gerät;Kanal;Fehler;Gemeldet von;Was gemacht;Status;Erledigt am;Kosten
03.02.2024;Lindwurm 8 Nr. 1;3;kratzt;RK;Poti gereinigt;erledigt;10.02.2024;0
11.02.2024;Lindwurm 8 Nr. 1;5-8;kein 48V;RK;;offen;;
02.03.2024;Röhrenmikro 003;;brummt;Tine;eingeschickt;beim Service;;ca. 180 €
;Röhrenmikro 003;;brummt;Tine;zurück;zurück, nicht getestet;;164,50 €
15.03.2024;Pult;„Kanal 12“;Fader hängt – nur kalt;RK;;offen;;
16.03.2024;DI 4;-;tot;JM;entsorgt;ausgemustert;16.03.2024;
17.03.2024;Kompressor B;;;JM;;;;
Summe;;;;;;;;164,50 €
"""
BARE = """M-01,microphone,Larkmoor,LM 2,10023,Locker 1,£450.00
M-02,microphone,Larkmoor,LM 2,10024,Locker 1,£450.00
M-03,ribbon mic,Coldwater,CW R,553,Locker 2,£780.00
P-01,preamp,Coldwater,CW Four,2201,Rack A,"£1,150.00"
P-02,compressor,Coldwater,CW Squash,2310,Rack A,£690.00
"""
MONTH_FIRST = """sep=,
Asset Tag,Category,Manufacturer,Model,Serial Number,Location,Purchase Date,Price,Condition
0001,Microphone,Pinehollow,PH-1,=1+1,Cage,04/05/2021,"$1,299.00",good
0002,Microphone,Pinehollow,PH-1,000452,Cage,04/25/2021,"$1,299.00",good
0003,Mic Preamp,Стрелка,СТ-2,-12,"Rack ""B"", top",11/30/2019,$2.50,"ch 1 dead
ch 2 ok"
0004,Theremin,Pinehollow,Wave,+44,Cage,last summer,$800,
0002,Microphone,Pinehollow,PH-9,999,Cage,01/15/2022,$400.00,good
0006,Microphone,Pinehollow,PH-1,000460,Cage,02/01/2022,$400.00,good,,extra words
"""
UNSURE = """Item;Qty;Bought;Paid;Notes
Larkmoor LM 2;1;03/04/2021;1.500;
Larkmoor LM 3;1;05/06/2021;2.250;
Coldwater Squash compressor;1;07/08/2020;1.125;
headphones;some;;;old ones
"""
LAB_ROWS: list[list[Any]] = [
    ["Sound lab B", None, None, None, None, None, None],
    [None, None, None, None, None, None, None],
    ["ID", "Equipment", "Serial", "Count", "Cupboard", "Date bought", "Value"],
    ["LAB001", "Dynamic mic Thornley TD1", 4521, 1, "C1", date(2020, 9, 1), 85],
    ["LAB002", "Audio interface 4 ch Thornley IF4", 77, 1, "C2", date(2021, 2, 15), 210.5],
    ["LAB003", "Headphones Thornley HP", None, 15, "C3", None, "=15*22"],
    ["LAB004", "Mic stands", None, 12, "C3", None, None],
    [None, None, None, "=SUM(D4:D7)", None, None, None],
    ["LAB005", "Keyboard (keys 3 and 17 stick)", "N/A", 1, "C4", 2017, 150],
]


def lab_workbook() -> bytes:
    book = Workbook()
    page = book.active
    assert page is not None
    page.title = "Lab B"
    for row in LAB_ROWS:
        page.append(row)
    page["C5"].number_format = "00000"
    other = book.create_sheet("Old")
    other.append(["only", "one row"])
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


SHEETS = [
    Sheet(
        name="a French house list, cp1252, semicolons, sections, totals",
        content=FRENCH.replace("\n", "\r\n").encode("cp1252"),
        encodings=frozenset({"cp1252"}),
        delimiter=";",
        heading_row=3,
        columns={
            "Désignation": "kind",
            "Marque": "maker",
            "Modèle": "model",
            "N° de série": "serial",
            "Qté": "quantity",
            "Emplacement": "place",
            "Prix d'achat": "value",
            "Date d'achat": "purchase date",
            "État": "condition",
            "Remarques": "notes",
        },
        units=1 + 2 + 1 + 4 + 1 + 1 + 20 + 8 + 6,
        skipped=frozenset({1, 2, 4, 9, 10, 13, 14, 15, 19, 20}),
        asked=frozenset({8, 11, 12, 18}),
        not_asked_columns=frozenset({"Date d'achat"}),
        rows={
            5: {
                "serials": ["00871"],
                "value": "1250.00",
                "currency": "EUR",
                "bought": "2019-03-12",
                "kind": "microphone",
            },
            6: {"pieces": 2, "serials": ["3301", "3302"], "value": "390.00"},
            7: {"serials": [], "ban": True, "kind": "microphone"},
            8: {"pieces": 4, "value": "95", "bought": "2016"},
            11: {
                "pieces": 1,
                "channels": 4,
                "kind": "preamp",
                "serials": ["4-0019"],
                "bought": "2015-09",
                "ban": False,
            },
            12: {"serials": ["0552"], "kind": "compressor"},
            16: {"pieces": 20, "stock": "cable"},
            17: {"pieces": 8, "stock": "stand", "about": True},
            18: {"pieces": 6, "kind": "headphones"},
        },
        faults={8: ((),), 11: ((3,), (4,)), 12: ((),)},
        not_faults=frozenset({5, 6, 7}),
    ),
    Sheet(
        name="a Spanish school list, UTF-16, tabs",
        content=SPANISH.replace("\n", "\r\n").encode("utf-16"),
        encodings=frozenset({"utf-16", "utf-16-le"}),
        delimiter="\t",
        heading_row=2,
        columns={
            "Código": "tag",
            "Aparato": "kind",
            "Marca": "maker",
            "Modelo": "model",
            "Nº de serie": "serial",
            "Cant.": "quantity",
            "Ubicación": "place",
            "Estado": "condition",
            "Observaciones": "notes",
        },
        units=1 + 1 + 1 + 1 + 4 + 12 + 30 + 1,
        skipped=frozenset({1, 10, 11, 13}),
        asked=frozenset({5, 7, 8}),
        rows={
            3: {"tags": ["A-001"], "serials": ["00231"]},
            4: {"serials": [], "ban": True},
            5: {"pieces": 1, "serials": ["1604-7"], "ban": False},
            6: {"channels": 2, "serials": ["77"], "kind": "preamp"},
            7: {"tags": ["A-005", "A-006", "A-007", "A-008"], "pieces": 4, "kind": "di"},
            8: {"pieces": 12, "kind": "headphones"},
            9: {"pieces": 30, "stock": "cable"},
            12: {"serials": [], "state": "retired"},
        },
        faults={5: ((2,), (9,)), 7: ((),)},
        not_faults=frozenset({3, 4, 6}),
    ),
    Sheet(
        name="an Italian list from an old computer, Mac Roman, lone CR",
        content=ITALIAN.encode("mac_roman"),
        encodings=frozenset({"mac_roman", "mac-roman"}),
        delimiter=";",
        heading_row=1,
        columns={
            "Quantità": "quantity",
            "Produttore": "maker",
            "Modello": "model",
            "Matricola": "serial",
            "Posizione": "place",
            "Prezzo": "value",
            "Acquistato il": "purchase date",
            "Note": "notes",
        },
        units=2 + 1 + 3 + 1 + 1 + 6 + 1,
        skipped=frozenset({2, 6, 9, 12}),
        asked=frozenset({5, 7}),
        rows={
            3: {
                "pieces": 2,
                "serials": ["0118", "0119"],
                "value": "1100.00",
                "currency": "EUR",
                "bought": "2017-06-14",
                "kind": "microphone",
            },
            4: {"ban": True, "value": "1450.00", "bought": "2020-02-03"},
            5: {"pieces": 3, "value": "99.00", "kind": "microphone"},
            7: {"pieces": 1, "channels": 8, "serials": ["R-8-003"], "value": "2300"},
            8: {"model": 'Equalizzatore "Lago"', "serials": [], "kind": "equaliser"},
            10: {"pieces": 6, "stock": "stand"},
            11: {"stock": "other"},
        },
        faults={7: ((5,), (7, 8))},
        not_faults=frozenset({3, 4}),
    ),
    Sheet(
        name="a Dutch list, UTF-8, bars",
        content=DUTCH.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter="|",
        heading_row=1,
        columns={
            "Nr.": "tag",
            "Soort": "kind",
            "Merk": "maker",
            "Type": "model",
            "Serienr.": "serial",
            "Aantal": "quantity",
            "Plek": "place",
            "Van wie": "owner",
            "Aangeschaft": "purchase date",
            "Nieuwprijs": "value",
            "Staat": "condition",
            "Opmerkingen": "notes",
        },
        units=1 + 1 + 1 + 1 + 1 + 15,
        skipped=frozenset({9}),
        asked=frozenset({3, 5, 8}),
        may_ask=frozenset({6}),
        rows={
            2: {
                "tags": ["M01"],
                "serials": ["0091"],
                "bought": "2015-03-02",
                "value": "1495",
                "model": "HV 47",
                "owner": "",
            },
            3: {"serials": [], "ban": True, "value": "1150"},
            4: {"serials": [], "owner": "Joris Kamp"},
            5: {"channels": 2, "serials": ["22-418"], "bought": "2018"},
            6: {"state": "away", "place": "", "owner": ""},
            7: {"pieces": 15, "stock": "cable", "about": True},
        },
        faults={3: ((),), 5: ((2,),)},
        not_faults=frozenset({2, 4}),
    ),
    Sheet(
        name="a hire shelf, rates and deposits, headings twice",
        content=HIRE.encode(),
        encodings=frozenset({"utf-8", "ascii"}),
        delimiter=",",
        heading_row=2,
        columns={
            "Code": "tag",
            "Item": "model",
            "Make": "maker",
            "Qty": "quantity",
            "Day rate": "day rate",
            "Deposit": "deposit",
            "New price": "value",
            "Order no": "order number",
            "Status": "condition",
            "Comments": "notes",
        },
        units=1 + 2 + 1 + 2 + 1 + 4 + 10 + 6,
        skipped=frozenset({1, 7, 8, 13}),
        asked=frozenset({4, 5, 6, 10, 12}),
        rows={
            3: {"value": "2950.00", "kind": "microphone"},
            4: {"pieces": 2, "value": "490.00"},
            5: {"pieces": 1, "channels": 8, "value": "1600.00", "state": "away"},
            6: {"pieces": 2, "value": "640.00"},
            9: {"value": "1120.00", "kind": "amplifier"},
            10: {"pieces": 4, "value": "410.00", "kind": "monitor"},
            11: {"pieces": 10, "stock": "stand"},
            12: {"pieces": 6, "value": "120.00", "kind": "di"},
        },
        faults={5: ((2,),), 6: ((),)},
        not_faults=frozenset({3, 4, 9, 10}),
    ),
    Sheet(
        name="a school lab's workbook, computed cells, a second sheet",
        content=lab_workbook(),
        encodings=frozenset({"xlsx"}),
        delimiter=None,
        heading_row=3,
        columns={
            "ID": "tag",
            "Equipment": "model",
            "Serial": "serial",
            "Count": "quantity",
            "Cupboard": "place",
            "Date bought": "purchase date",
            "Value": "value",
        },
        units=1 + 1 + 15 + 12 + 1,
        skipped=frozenset({1, 2, 8}),
        asked=frozenset({6, 9}),
        asked_columns=frozenset({"(sheet)"}),
        rows={
            4: {"serials": ["4521"], "bought": "2020-09-01", "kind": "microphone", "value": "85"},
            5: {"serials": ["00077"], "value": "210.5", "channels": 4, "pieces": 1, "kind": "converter"},
            6: {"pieces": 15, "kind": "headphones"},
            7: {"pieces": 12, "stock": "stand"},
            9: {"serials": [], "bought": "2017", "kind": "instrument"},
        },
        faults={9: ((),)},
    ),
    Sheet(
        name="a German repair log, cp1252",
        content=LOG.replace("\n", "\r\n").encode("cp1252"),
        encodings=frozenset({"cp1252"}),
        delimiter=";",
        heading_row=1,
        columns={
            "Datum": "date seen",
            "Gerät": "unit",
            "Kanal": "channel",
            "Fehler": "fault",
            "Gemeldet von": "who",
            "Was gemacht": "what was done",
            "Status": "state",
            "Erledigt am": "date closed",
            "Kosten": "cost",
        },
        units=0,
        skipped=frozenset({9}),
        asked=frozenset({2, 3, 4, 5, 6, 7, 8}),
        faults={2: ((3,),), 3: ((5, 6, 7, 8),), 4: ((),), 6: ((12,),), 7: ((),)},
    ),
    Sheet(
        name="a list without headings",
        content=BARE.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter=",",
        heading_row=0,
        columns={
            "column 1": "tag",
            "column 2": "kind",
            "column 3": "maker",
            "column 4": "model",
            "column 5": "serial",
            "column 6": "place",
            "column 7": "value",
        },
        units=5,
        skipped=frozenset(),
        asked_columns=frozenset({"column 1", "column 3", "column 5"}),
        rows={
            1: {"tags": ["M-01"], "serials": ["10023"], "value": "450.00", "currency": "GBP"},
            4: {"value": "1150.00"},
        },
    ),
    Sheet(
        name="an American list, month first, formulas, a tag twice, a row too long",
        content=MONTH_FIRST.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter=",",
        heading_row=1,
        columns={
            "Asset Tag": "tag",
            "Category": "kind",
            "Manufacturer": "maker",
            "Model": "model",
            "Serial Number": "serial",
            "Location": "place",
            "Purchase Date": "purchase date",
            "Price": "value",
            "Condition": "condition",
        },
        units=5,
        skipped=frozenset(),
        asked=frozenset({2, 4, 5, 6}),
        errors=frozenset({7}),
        not_asked_columns=frozenset({"Purchase Date"}),
        rows={
            2: {"tags": ["0001"], "bought": "2021-04-05", "value": "1299.00", "currency": "USD"},
            3: {"serials": ["000452"], "bought": "2021-04-25"},
            4: {"serials": ["-12"], "place": 'Rack "B", top', "value": "2.50", "maker": "Стрелка"},
            5: {"serials": ["+44"], "bought": ""},
            6: {"tags": [], "bought": "2022-01-15"},
        },
        faults={4: ((1,),)},
    ),
    Sheet(
        name="a list whose dates and amounts can be read two ways",
        content=UNSURE.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter=";",
        heading_row=1,
        columns={
            "Item": "model",
            "Qty": "quantity",
            "Bought": "purchase date",
            "Paid": "value",
            "Notes": "notes",
        },
        units=3,
        skipped=frozenset(),
        asked=frozenset({5}),
        may_ask=frozenset({2, 3}),  # nothing says what kind of thing they are
        asked_columns=frozenset({"Bought", "Paid"}),
        rows={2: {"bought": "", "value": ""}, 4: {"kind": "compressor"}},
    ),
]
