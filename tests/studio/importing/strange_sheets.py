"""A fourth set of lists, of shapes that the first three haven't: labelled before the reader was changed for them."""

from __future__ import annotations

import io
from datetime import date

from openpyxl import Workbook

from tests.studio.importing.sheets import Sheet

AMERICAN = """Gear Inventory - Updated 3/4/2025
Item #,Category,Brand,Model,S/N,Qty.,Location,Purch. Date,Cost,Works?,Notes
1001,Mic,Fernbrook,FB-47,000471,1,Mic Locker,3/4/2019,"$3,200.00",Y,
1002,Mic,Fernbrook,FB-57,N/A,6,Mic Locker,12/25/2020,$99.00 ea,Y,1 w/ bad grille
1003,Mic Pre,Tallow,T-512 (2ch),512-0033,1,Rack 3,7/8/2021,"1,100",N,Ch 2 no output
1004,Comp,Tallow,T-76,76-1 / 76-2,2,Rack 3,2/2/22,"$2,600 (pair)",Y,
1005,Effect,Tallow,T-Plate,I-9,1,Rack 1,11/11/2023,2400,?,
1006,EQ,Cobble,E6,,1,CR,,150,N,
,,,,,,,,,,
LIVE ROOM,,,,,,,,,,
1008,Snare,Pinder,14x6.5,,1,LR,,$400,,
1011,XLR 25ft,,,,2 doz,Wall,,,,several bad
Grand total,,,,34,,,,"$11,111.00",,
"""
DEFECT_YES = """Inv.-Nr.;Gerät;Fabrikat;Typ;Defekt
07;Mikrofon;Alpstein;A7;nein
08;Vorverstärker 2-Kanal;Alpstein;V2;Kanal B rauscht ab 40 dB
09;Kopfhörer;Alpstein;K;ja
"""
FRENCH_MATERIEL = """Code\tMatériel\tMarque\tModèle\tN° série\tQté\tSalle\tAchat\tPrix TTC\tÉtat
M01\tMicro à ruban\tBrévaux\tRB-2\t0007\t1\tStudio A\t15/02/2018\t1 450,00\tpas d'alim 48V SVP
M03\tMicro statique\tOrvigny\tS 100\tS/N 00981\t1\tStudio B\t07/08/2021\t899,00\tgrésille
\tSous-total\t\t\t\t\t\t\t2 349,00\t
C01\tCasque fermé\tBrévaux\tC80\t\t2 paires\tRégie\t\t\t
\tConsole 24 voies\tOrvigny\tK24\t12\t1\tRégie\t09/1999\t12 500 F\tvoie 9 HS
"""
HEADLESS = (
    "M1\tmicro\tBrévaux\tRB-2\t0007\tArmoire 1\t1 250,00 €\t12/03/2019\n"
    "M2\tmicro\tBrévaux\tRB-3\t0008\tArmoire 1\t250,00 €\t25/03/2019\n"
    "P1\tpréampli\tOrvigny\tPA2\t0102\tRack 1\t2 250,00 €\t01/04/2020\n"
)
GERMAN_LOG = (
    "Reparaturbuch\n"
    "Datum\tInv.-Nr.\tKanal\tFehlerbeschreibung\tMelder\tMaßnahme\tErledigt\tKosten EUR\n"
    "03.02.2025\tT007\t2\tkratzt beim Drehen\tAnna\tPoti gereinigt\t05.02.2025\t0,00\n"
    "10.02.2025\tT007\t4\tkeine Phantomspeisung\tBen\t\t\t\n"
    "12.02.2025\tT001\t\trauscht, aber erst ab 50 dB\tBen\t\t\t120,00 (KV)\n"
)
ITALIAN = """"Codice","Strumento","Marca","Modello","Matricola","Q.tà","Dove","Data acq.","Costo","Note"
"MIC-01","Microfono a condensatore","Belcolle","BC1","000123","1","Armadio","01/02/03","1.234,56","funziona"
"MIC-02","Microfono a nastro","Belcolle","BC2","senza numero","1","Armadio","05/06/07","2.000","NO PHANTOM"
"PRE-01","Preamplificatore 8 canali","Roccaverde","R8","88","1","Rack","10-11-2012","3.500","ch8 senza 48V"
"""
SPANISH_MAC = (
    "Referencia;Descripción;Fabricante;Modelo;Núm. serie;Unidades;Ubicación;Fecha compra;Precio;Estado\r"
    "M-1;Micrófono de condensador;Alcázar;AZ 3;000341;1;Cabina;04/05/2019;1.234,56 €;bien\r"
    "M-2;Micrófono de cinta;Alcázar;CI;;1;Cabina;13/11/2020;980 €;¡NO 48V!\r"
    "P-1;Preamplificador 4 canales;Peñíscola;P4;P4/003;1;Rack;02/2015;2.100 €;canal 3 sin phantom\r"
    "Total;;;;;3;;;4.314,56 €;\r"
)


def dutch_workbook() -> bytes:
    """A title and a section over merged cells, one heading over two columns, one maker beside three rows."""
    book = Workbook()
    page = book.active
    assert page is not None
    page.append(["Apparatuurlijst studio De Loods"])
    page.merge_cells("A1:I1")
    page.append(
        ["Nr", "Omschrijving", "Merk / type", None, "Serienr", "Aantal", "Ruimte", "Aanschafdatum", "Prijs"]
    )
    page.merge_cells("C2:D2")
    page.append([1, "Microfoons"])
    page.merge_cells("B3:I3")
    page.append([101, "Condensatormicrofoon", "Veldzicht", "CM 5", "00045", 1, "Kast 1", date(2020, 3, 4)])
    page.append([102, "Lintmicrofoon", None, "LM", "0001", 1, None, date(2019, 12, 1), "€ 899,-"])
    page.append([103, "Grensvlakmicrofoon", None, "GM", "12", 1, None, 43831, None])
    page.merge_cells("C4:C6")
    page.merge_cells("G4:G5")
    page.append([2, "Overig"])
    page.merge_cells("B7:I7")
    page.append([104, "Koptelefoon", "Polderaudio", "K1", None, 6, "Regie", None, 45])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


STRANGE_SHEETS = [
    Sheet(
        name="an American list, numbers called “Item #”, “Works?” answered Y, N and “?”",
        content=AMERICAN.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter=",",
        heading_row=2,
        columns={
            "Item #": "tag",
            "Category": "kind",
            "Model": "model",
            "Purch. Date": "purchase date",
            "Cost": "value",
            "Works?": "condition",
        },
        units=1 + 6 + 1 + 2 + 1 + 1 + 1 + 24,
        skipped=frozenset({1, 9, 10, 13}),
        asked=frozenset({4, 5, 6, 7, 8, 12}),
        asked_columns=frozenset({"Cost"}),
        not_asked_columns=frozenset({"Model", "Item #", "Purch. Date"}),
        rows={
            3: {"tags": ["1001"], "serials": ["000471"], "bought": "2019-03-04", "value": "3200"},
            5: {"kind": "preamp", "channels": 2, "model": "T-512", "value": "1100", "currency": "USD"},
            6: {"pieces": 2, "serials": ["76-1", "76-2"], "value": "1300"},
            12: {"pieces": 24, "stock": "cable"},
        },
        faults={5: ((2,),), 7: ((),), 8: ((),)},
        not_faults=frozenset({3, 6, 11}),
    ),
    Sheet(
        name="a Swiss list whose column asks whether a thing is defective",
        content=DEFECT_YES.encode("cp1252"),
        encodings=frozenset({"cp1252"}),
        delimiter=";",
        heading_row=1,
        columns={"Gerät": "kind", "Typ": "model", "Defekt": "condition"},
        units=3,
        skipped=frozenset(),
        asked=frozenset({3, 4}),
        rows={2: {"tags": ["07"]}, 3: {"channels": 2}},
        faults={3: ((2,),), 4: ((),)},
        not_faults=frozenset({2}),
    ),
    Sheet(
        name="a French list in UTF-16, kind under “Matériel”, prices with tax",
        content=FRENCH_MATERIEL.encode("utf-16"),
        encodings=frozenset({"utf-16"}),
        delimiter="\t",
        heading_row=1,
        columns={"Matériel": "kind", "Modèle": "model", "Prix TTC": "value", "État": "condition"},
        units=1 + 1 + 4 + 1,
        skipped=frozenset({4}),
        asked=frozenset({3, 5, 6}),
        not_asked_columns=frozenset({"Modèle", "Prix TTC", "Achat"}),
        rows={
            2: {"model": "RB-2", "kind": "microphone", "ban": True, "serials": ["0007"], "value": "1450"},
            3: {"model": "S 100", "serials": ["00981"], "bought": "2021-08-07"},
            6: {"value": "12500", "currency": "FRF", "channels": 24, "bought": "1999-09"},
        },
        faults={3: ((),), 6: ((9,),)},
        not_faults=frozenset({2}),
    ),
    Sheet(
        name="tabs without headings, decimal commas in the prices",
        content=HEADLESS.encode(),
        encodings=frozenset({"utf-8"}),
        delimiter="\t",
        heading_row=0,
        columns={"column 1": "tag", "column 5": "serial", "column 7": "value"},
        units=3,
        skipped=frozenset(),
        asked_columns=frozenset({"(headings)"}),
        rows={
            1: {"tags": ["M1"], "maker": "Brévaux", "model": "RB-2", "serials": ["0007"], "value": "1250"},
            3: {"kind": "preamp", "place": "Rack 1", "bought": "2020-04-01"},
        },
    ),
    Sheet(
        name="a German log of repairs, compound headings, “Erledigt” with dates",
        content=GERMAN_LOG.encode("utf-16-le"),
        encodings=frozenset({"utf-16-le"}),
        delimiter="\t",
        heading_row=2,
        columns={
            "Inv.-Nr.": "unit",
            "Fehlerbeschreibung": "fault",
            "Maßnahme": "what was done",
            "Erledigt": "date closed",
            "Kosten EUR": "cost",
        },
        units=0,
        skipped=frozenset({1}),
        asked=frozenset({3, 4, 5}),
        faults={3: ((2,),), 4: ((4,),), 5: ((),)},
    ),
    Sheet(
        name="an Italian list, dates that can be read two ways, a cost that may be the price",
        content=ITALIAN.encode("utf-8-sig"),
        encodings=frozenset({"utf-8-sig"}),
        delimiter=",",
        heading_row=1,
        columns={"Strumento": "kind", "Modello": "model", "Data acq.": "purchase date", "Costo": "value"},
        units=3,
        skipped=frozenset(),
        asked=frozenset({4}),
        asked_columns=frozenset({"Data acq.", "Costo"}),
        rows={
            2: {"kind": "microphone", "value": "1234.56", "serials": ["000123"], "bought": ""},
            3: {"ban": True, "value": "2000", "serials": []},
            4: {"channels": 8, "value": "3500"},
        },
        faults={4: ((8,),)},
        not_faults=frozenset({2, 3}),
    ),
    Sheet(
        name="a Spanish list from an old Mac, “Referencia” and “Descripción” beside a model",
        content=SPANISH_MAC.encode("mac_roman"),
        encodings=frozenset({"mac_roman"}),
        delimiter=";",
        heading_row=1,
        columns={
            "Referencia": "tag",
            "Descripción": "kind",
            "Modelo": "model",
            "Fecha compra": "purchase date",
        },
        units=3,
        skipped=frozenset({5}),
        asked=frozenset({4}),
        not_asked_columns=frozenset({"Modelo", "Referencia", "Fecha compra"}),
        rows={
            2: {"tags": ["M-1"], "model": "AZ 3", "serials": ["000341"], "bought": "2019-05-04"},
            3: {"ban": True, "value": "980"},
            4: {"channels": 4, "maker": "Peñíscola", "bought": "2015-02"},
        },
        faults={4: ((3,),)},
        not_faults=frozenset({3}),
    ),
    Sheet(
        name="a Dutch workbook of merged cells: title, sections, a heading over two columns, one maker for three",
        content=dutch_workbook(),
        encodings=frozenset({"xlsx"}),
        delimiter=None,
        heading_row=2,
        columns={"Omschrijving": "kind", "Merk": "maker", "type": "model", "Prijs": "value"},
        units=3 + 6,
        skipped=frozenset({1, 3, 7}),
        asked=frozenset({6, 8}),
        asked_columns=frozenset({"(merged cells)", "Prijs"}),
        rows={
            4: {"maker": "Veldzicht", "model": "CM 5", "serials": ["00045"], "place": "Kast 1"},
            5: {"maker": "Veldzicht", "model": "LM", "place": "Kast 1", "value": "899"},
            6: {"maker": "Veldzicht", "model": "GM", "place": "", "bought": "2020-01-01"},
            8: {"pieces": 6, "kind": "headphones", "maker": "Polderaudio"},
        },
    ),
]
