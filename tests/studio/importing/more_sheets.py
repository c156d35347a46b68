"""A second set of lists, labelled before the reader saw any of them and after it had been tuned on the first set."""

from __future__ import annotations

import io
from datetime import date, datetime

from openpyxl import Workbook

from tests.studio.importing.sheets import Sheet

FRENCH_LOG = """Cahier des pannes – studio B;;;;;;;
Date;Appareil;Voie;Panne;Vu par;Travaux;Statut;Clos le
12/01/2024;Préampli Orvalle n°1;2;crachote;MB;potentiomètre nettoyé;réparé;15/01/2024
20/01/2024;Préampli Orvalle n°1;3 et 4;pas de 48V;LT;;en cours;
28/01/2024;Console;1-8;souffle;MB;;attente pièces;
;Console;9;LED morte, sans gravité;MB;;tel quel;
03/02/2024;Compresseur TC-1;gauche;ne s'allume plus;LT;envoyé chez le réparateur;parti;
05/02/2024;Casque 3;;;LT;;;
07/02/2024;DI 2;-;HS;MB;jeté;réformé;07/02/2024
;;;;;;;
Total : 7 pannes;;;;;;;
"""
HIRED_IN = """Ref\tDescription\tOwner\tQty\t£/day\tReplacement value £\tDue back\tCondition\tRemarks
R001\tRibbon mic, Coldwater CW R\tBellhouse Hire\t1\t22\t1,150\t14/03/2026\tgood\tnever phantom!
R002\t4 channel mic preamp Coldwater CW Four\tBellhouse Hire\t1\t30\t1,600\t14/03/2026\tch 1 noisy – told them\t
R003\tPair of small diaphragm condensers\tours\t1 pr\t18\t900 the pair\t\tOK\t
R004\tMic cable 10m\tours\t20\t1\t12 each\t\t3 dead\t
R005\tDrum mic kit (7 mics)\tBellhouse Hire\t1\t40\t850\t14/03/2026\t\tkick mic missing
R006\tGuitar amp 1x12 combo\tJo’s\t1\t25\t700\t\tfan noisy – mains lead taped\t
"""
SPANISH_HOUSE = """Material del estudio;;;;;;;;
Actualizado: 03/01/2025;;;;;;;;
Cant.;Tipo;Marca;Modelo;Nº serie;Dónde;Compra;Precio;Notas
MICRÓFONOS;;;;;;;;
1;condensador gran diafragma;Valdeoro;VC 9 (válvulas);0007;armario;15/02/2014;2.900,00 €;fuente propia
pareja;condensador pequeño;Valdeoro;VC 3;311-312;armario;09/2019;1.180 € la pareja;
2 uds;dinámico;Montcalmo;MD 5;sin nº;cajón 2;;110 € c/u;una con golpe en la rejilla
1;cinta;Peñalara;Cinta 1;41;armario;2020;1.350 €;¡NUNCA phantom!
PREVIOS;;;;;;;;
1;previo 8 canales;Peñalara;PP-8;8-114;rack 1;22/11/2017;2.450 €;canales 5 y 6 sin phantom, canal 8 muerto
1;mesa 24x8;Peñalara;PM-24;;sala A;2009;;
;;;;;;;;
CABLES Y PIES;;;;;;;;
unos 30;cable XLR 5 m;;;;pared;;;
12;pie jirafa;;;;pasillo;;;3 flojos
Total;;;;;;;7.990,00 €;
Firma: LR;;;;;;;;
"""
GERMAN_DOS = """Lfd.Nr.;Bezeichnung;Fabrikat;Typ;Ser.-Nr.;Anz.;Raum;Kaufdatum;Preis DM;Bem.
1;Mikrofon Röhre;Quellmoos;Röhre II;0034;1;Regie;12.05.1987;3.200,-;Netzteil brummt
2;Mikrofone dynamisch;Birkenlohe;BD 4;101-106;6;Schrank;1991;je 240,-;
3;Bandmaschine 16-Spur;Tiefgrund;TB-16;16-7;1;Regie;03.03.1989;28.500,-;Spur 7 rauscht
4;Kopfhörer;Birkenlohe;BK;o.Nr.;10;Aufnahme;1993;95,-;4 Stück defekt
5;Stative groß;;;;8;Aufnahme;;;
;Gesamt;;;;;;;33.900,-;
"""
LONE_CR = (
    "Tag,Qty,Item,Maker,Serial,Where,Notes\r\n"
    'A1,1,"16x4 desk",Larkmoor,77-1,Room 1,"fader 3 sticks\r(not urgent)"\r\n'
    "A2,4 off,dynamic mic,Fenlight,F101-F104,Box 2,F103 dented\r\n"
    'A3,x2,DI active,Sedgeway,"S1, S2",Box 2,\r\n'
    "A4,two,headphones,Larkmoor,,Hook,\r\n"
    'n/a,1,"""Big"" ribbon",Hollin & Rake,n/k,Locker,do NOT use 48V\r\n'
    'A6,1,8-ch headphone amp,Larkmoor,9,Rack,"out 5 dead; out 6 crackly"\r\n'
    "A7,1,power supply for A6,Larkmoor,,Rack,hums\r\n"
    "A8,1,mic,Larkmoor,0012,,lost since Tuesday\r\n"
)
MACHINE_EXPORT = """\
asset_tag,item_name,category,manufacturer,serial_no,qty,location,purchase_date,purchase_price,status,comments
EQ-0001,LM 2,Microphone,Larkmoor,0000123,1,Vault,2021-04-03T00:00:00,1299.0,in service,
EQ-0002,CW Four,Preamp,Coldwater,2201,1,Rack A,2019-11-30T00:00:00,1150.0,in service,ch4 crackles
EQ-0003,CW Squash,Compressor,Coldwater,2310,1,Rack A,,690.0,in repair,sent 12 Jan 2026
EQ-0004,Old Echo,Reverb,Coldwater,,1,Vault,1998-01-01T00:00:00,,retired,
EQ-0005,Cable XLR 3m,Cable,,,40,Wall,,,in service,
"""
DUTCH_SCHOOL = (
    "Inventaris geluidslokaal,,,,,,,\n"
    'Nummer,Omschrijving,Merk,Serienummer,Stuks,Lokaal,"Prijs","Opm."\n'
    'GL-01 t/m GL-04,dynamische microfoon,Zandlijn,n.v.t.,4,kast,"89,50 p.st.",GL-03 kapot\n'
    'GL-05,audio-interface 2 kanalen,Heemvoort,00911,1,kast,"249,00",\n'
    'GL-06,koptelefoon gesloten,Zandlijn,,12,kast,"59,95",\n'
    'GL-07,mengpaneel 12 kanalen,Heemvoort,12-5,1,lokaal 3,"799,00","kanaal 4 ruist, kanaal 11 doet het niet"\n'
    'GL-08,bandmicrofoon,Heemvoort,7,1,kluis,"640,00",GEEN 48V\n'
    ",xlr-kabels,,,?,haak,,tellen!\n"
    "Aantal totaal,,,,19,,,\n"
)
LEFT_WHOLE = """Name,Serial number,Value
Larkmoor LM 2,1001,450
Larkmoor LM 2,1001,450
Larkmoor LM 2,1002,450
"""


def italian_workbook() -> bytes:
    book = Workbook()
    page = book.active
    assert page is not None
    page.append(["Scuola di musica – inventario audio"])
    page.merge_cells("A1:H1")
    page.append(
        [
            "N.\ninventario",
            "Tipo",
            "Marca",
            "Modello",
            "Matricola",
            "Q.tà",
            "Dove",
            "Data\nacquisto",
            "Valore €",
            "Stato",
        ]
    )
    page.append(
        [
            "001",
            "microfono a nastro",
            "Belcolle",
            "BC N",
            "0044",
            1,
            "Aula 2",
            datetime(2019, 5, 6),  # noqa: DTZ001  as a workbook holds it
            980,
            "buono - MAI 48V",
        ]
    )
    page.append(
        [
            "002",
            "preamplificatore 2 canali",
            "Roccaverde",
            "RP2",
            118,
            1,
            "Aula 2",
            date(2020, 1, 7),
            640.5,
            "canale 2 gracchia",
        ]
    )
    page.append(["003", "cuffie", "Roccaverde", "RC", None, 8, "Aula 1", None, "45 cad.", "2 rotte"])
    page.append([None] * 10)
    page.append([None, "aste", None, None, None, 6, "Aula 1"])
    page.append([None, "Totale", None, None, None, "=SUM(F3:F7)"])
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


MORE_SHEETS = [
    Sheet(
        name="a French repair log, Mac Roman",
        content=FRENCH_LOG.encode("mac_roman"),
        encodings=frozenset({"mac_roman", "mac-roman"}),
        delimiter=";",
        heading_row=2,
        columns={
            "Date": "date seen",
            "Appareil": "unit",
            "Voie": "channel",
            "Panne": "fault",
            "Vu par": "who",
            "Travaux": "what was done",
            "Statut": "state",
            "Clos le": "date closed",
        },
        units=0,
        skipped=frozenset({1, 10, 11}),
        asked=frozenset({3, 4, 5, 6, 7, 8, 9}),
        faults={3: ((2,),), 4: ((3, 4),), 5: (tuple(range(1, 9)),), 6: ((9,),), 7: ((),)},
    ),
    Sheet(
        name="a hire list with rented-in gear, tabs, cp1252",
        content=HIRED_IN.replace("\n", "\r\n").encode("cp1252"),
        encodings=frozenset({"cp1252"}),
        delimiter="\t",
        heading_row=1,
        columns={
            "Ref": "tag",
            "Description": "model",
            "Owner": "owner",
            "Qty": "quantity",
            "£/day": "day rate",
            "Replacement value £": "value",
            "Condition": "condition",
            "Remarks": "notes",
        },
        units=1 + 1 + 2 + 20 + 1 + 1,
        skipped=frozenset(),
        asked=frozenset({3, 5, 6, 7}),
        may_ask=frozenset({4}),  # one tag for two
        rows={
            2: {
                "owner": "Bellhouse Hire",
                "ban": True,
                "value": "1150",
                "currency": "GBP",
                "kind": "microphone",
            },
            3: {"channels": 4, "pieces": 1, "value": "1600", "kind": "preamp"},
            4: {"pieces": 2, "owner": "", "value": "450"},
            5: {"pieces": 20, "stock": "cable", "owner": ""},
            6: {"pieces": 1},
            7: {"pieces": 1, "owner": "Jo’s", "kind": "amplifier"},
        },
        faults={3: ((1,),), 5: ((),), 6: ((),), 7: ((),)},
        not_faults=frozenset({2, 4}),
    ),
    Sheet(
        name="a Spanish house list, cp1252",
        content=SPANISH_HOUSE.replace("\n", "\r\n").encode("cp1252"),
        encodings=frozenset({"cp1252"}),
        delimiter=";",
        heading_row=3,
        columns={
            "Cant.": "quantity",
            "Tipo": "kind",
            "Marca": "maker",
            "Modelo": "model",
            "Nº serie": "serial",
            "Dónde": "place",
            "Compra": "purchase date",
            "Precio": "value",
            "Notas": "notes",
        },
        units=1 + 2 + 2 + 1 + 1 + 1 + 30 + 12,
        skipped=frozenset({1, 2, 4, 9, 12, 13, 16, 17}),
        asked=frozenset({7, 10, 15}),
        rows={
            5: {
                "serials": ["0007"],
                "model": "VC 9",
                "bought": "2014-02-15",
                "value": "2900.00",
                "kind": "microphone",
            },
            6: {"pieces": 2, "serials": ["311", "312"], "value": "590", "bought": "2019-09"},
            7: {"pieces": 2, "serials": [], "value": "110"},
            8: {"ban": True, "serials": ["41"], "value": "1350", "bought": "2020"},
            10: {"channels": 8, "pieces": 1, "ban": False, "kind": "preamp", "value": "2450"},
            11: {"pieces": 1, "serials": []},
            14: {"pieces": 30, "stock": "cable", "about": True},
            15: {"pieces": 12, "stock": "stand"},
        },
        faults={7: ((),), 10: ((5, 6), (8,)), 15: ((),)},
        not_faults=frozenset({5, 6, 8, 11}),
    ),
    Sheet(
        name="a German list from the days of DOS, cp850, marks",
        content=GERMAN_DOS.replace("\n", "\r\n").encode("cp850"),
        encodings=frozenset({"cp850", "cp437"}),
        delimiter=";",
        heading_row=1,
        columns={
            "Lfd.Nr.": "tag",
            "Bezeichnung": "kind",
            "Fabrikat": "maker",
            "Typ": "model",
            "Ser.-Nr.": "serial",
            "Anz.": "quantity",
            "Raum": "place",
            "Kaufdatum": "purchase date",
            "Preis DM": "value",
            "Bem.": "notes",
        },
        units=1 + 6 + 1 + 10 + 8,
        skipped=frozenset({7}),
        asked=frozenset({2, 3, 4, 5}),
        may_ask=frozenset({3, 5}),  # one tag for several
        asked_columns=frozenset({"Preis DM"}),
        rows={
            2: {"serials": ["0034"], "currency": "DEM", "value": "3200", "bought": "1987-05-12"},
            3: {"pieces": 6, "serials": ["101", "102", "103", "104", "105", "106"], "value": "240"},
            4: {"pieces": 1, "kind": "recorder", "value": "28500"},
            5: {"pieces": 10, "serials": [], "value": ""},
            6: {"pieces": 8, "stock": "stand"},
        },
        faults={2: ((),), 5: ((),)},
    ),
    Sheet(
        name="a list with a lone CR in a cell, quantities in words, runs of serials",
        content=LONE_CR.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter=",",
        heading_row=1,
        columns={
            "Tag": "tag",
            "Qty": "quantity",
            "Item": "model",
            "Maker": "maker",
            "Serial": "serial",
            "Where": "place",
            "Notes": "notes",
        },
        units=1 + 4 + 2 + 2 + 1 + 1 + 1 + 1,
        skipped=frozenset(),
        asked=frozenset({2, 3, 7, 8, 9}),
        may_ask=frozenset({3, 4, 5}),  # one tag for several
        rows={
            2: {"pieces": 1, "serials": ["77-1"]},
            3: {"pieces": 4, "serials": ["F101", "F102", "F103", "F104"]},
            4: {"pieces": 2, "serials": ["S1", "S2"], "kind": "di"},
            5: {"pieces": 2, "kind": "headphones"},
            6: {"pieces": 1, "tags": [], "serials": [], "ban": True, "kind": "microphone"},
            7: {"kind": "headphone_amp", "channels": 8, "serials": ["9"]},
            8: {"kind": "other"},
            9: {"serials": ["0012"], "state": "missing"},
        },
        faults={2: ((3,),), 3: ((),), 7: ((5,), (6,)), 8: ((),), 9: ((),)},
        not_faults=frozenset({4, 6}),
    ),
    Sheet(
        name="an export of some program, underscores, ISO times",
        content=MACHINE_EXPORT.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter=",",
        heading_row=1,
        columns={
            "asset_tag": "tag",
            "item_name": "model",
            "category": "kind",
            "manufacturer": "maker",
            "serial_no": "serial",
            "qty": "quantity",
            "location": "place",
            "purchase_date": "purchase date",
            "purchase_price": "value",
            "status": "condition",
            "comments": "notes",
        },
        units=1 + 1 + 1 + 1 + 40,
        skipped=frozenset(),
        asked=frozenset({3, 4}),
        rows={
            2: {"tags": ["EQ-0001"], "serials": ["0000123"], "bought": "2021-04-03", "value": "1299.0"},
            4: {"state": "away"},
            5: {"state": "retired", "bought": "1998-01-01"},
            6: {"stock": "cable", "pieces": 40},
        },
        faults={3: ((4,),)},
        not_faults=frozenset({2, 6}),
    ),
    Sheet(
        name="a Dutch school list, commas, runs of tags",
        content=DUTCH_SCHOOL.encode("utf-16-le"),
        encodings=frozenset({"utf-16-le", "utf-16"}),
        delimiter=",",
        heading_row=2,
        columns={
            "Nummer": "tag",
            "Omschrijving": "model",
            "Merk": "maker",
            "Serienummer": "serial",
            "Stuks": "quantity",
            "Lokaal": "place",
            "Prijs": "value",
            "Opm.": "notes",
        },
        units=4 + 1 + 12 + 1 + 1,
        skipped=frozenset({1, 9}),
        asked=frozenset({3, 6, 8}),
        may_ask=frozenset({5}),  # one tag for twelve
        asked_columns=frozenset({"Prijs"}),
        rows={
            3: {"tags": ["GL-01", "GL-02", "GL-03", "GL-04"], "serials": [], "value": "89.50"},
            4: {"serials": ["00911"], "channels": 2, "pieces": 1, "kind": "converter"},
            5: {"pieces": 12, "kind": "headphones", "value": ""},
            6: {"pieces": 1, "channels": 12, "serials": ["12-5"]},
            7: {"ban": True, "serials": ["7"]},
        },
        faults={3: ((),), 6: ((4,), (11,))},
        not_faults=frozenset({4, 5, 7}),
    ),
    Sheet(
        name="three columns, the same serial twice",
        content=LEFT_WHOLE.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter=",",
        heading_row=1,
        columns={"Name": "model", "Serial number": "serial", "Value": "value"},
        units=3,
        skipped=frozenset(),
        asked=frozenset({3}),
        may_ask=frozenset({2}),
        rows={2: {"serials": ["1001"]}, 3: {"serials": ["1001"]}, 4: {"serials": ["1002"]}},
    ),
    Sheet(
        name="an Italian school's workbook, headings of two lines, a title over merged cells",
        content=italian_workbook(),
        encodings=frozenset({"xlsx"}),
        delimiter=None,
        heading_row=2,
        columns={
            "N. inventario": "tag",
            "Tipo": "kind",
            "Marca": "maker",
            "Modello": "model",
            "Matricola": "serial",
            "Q.tà": "quantity",
            "Dove": "place",
            "Data acquisto": "purchase date",
            "Valore €": "value",
            "Stato": "condition",
        },
        units=1 + 1 + 8 + 6,
        skipped=frozenset({1, 6, 8}),
        asked=frozenset({4, 5}),
        rows={
            3: {
                "tags": ["001"],
                "serials": ["0044"],
                "ban": True,
                "bought": "2019-05-06",
                "value": "980",
                "currency": "EUR",
            },
            4: {
                "serials": ["118"],
                "channels": 2,
                "bought": "2020-01-07",
                "value": "640.5",
                "kind": "preamp",
            },
            5: {"pieces": 8, "value": "45", "kind": "headphones"},
            7: {"pieces": 6, "stock": "stand"},
        },
        faults={4: ((2,),), 5: ((),)},
        not_faults=frozenset({3, 7}),
    ),
]
