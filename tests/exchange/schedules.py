"""Panel schedules as people lay them out; all of our own invention."""

from pathlib import Path

import openpyxl

TWO_SIDED = '''\
PANELBOARD SCHEDULE,,,,,,,,,,
Panel: PB-1   press barn,,,,,Voltage: 208Y/120 V 3PH 4W,,,,,
Main: 100A MLO,,,,,,,,,,
CKT NO.,LOAD SERVED,BKR (A),P,VA,,VA,P,BKR (A),LOAD SERVED,CKT NO.
1,Press motor,30,3,"2,400",,1500,1,20,Lights north,2
3,"""",--,,2400,,1.2 kVA,1,20,Lights south,4
5,"""",--,,2400,,720,1,20,Receptacles bench,6
7,Bottle washer,40,2,3000,,,1,20,SPARE,8
9,,,,3000,,,,,SPACE,10
11,Office receptacles,20,1,540,,,1,?,Mystery,12
TOTAL CONNECTED LOAD (VA),,,,13740,,3420,,,,
Prepared by: the apprentice,,,,,,,,,,
'''

LIST = """\
Circuit;Description;Breaker;Wire;Conduit;Length (ft);Remarks
1,3;Well pump;20A/2P;2#12, 1#12G;3/4";85;old
2;Freezer;20;12/2 NM;;40;
4-6;Range;50A 2P;3#6 Cu + 1#10G, 1"C;;30;
5;Yard light;15 GFCI;#14;;210;
7;Mystery;banana;#12;;;
8;;20;#12;;10;
9;Bad wire;20;#5/0;;10;
10;Spare;20;;;;
11;Sign;20/1;#12 Al;;25;
11;Second sign;20/1;#12 Al;;25;
13;Dryer;30/2;#10;;25;
15;Washer;20/1;#12;;25;
1/0;Heater;20/1;#12;;25;
;Lost;20/1;#12;;25;
19;Far;20/1;#12;;a while;
Note: all THHN;;;;;;
"""


def phases(path: Path) -> None:
    """Write a workbook: two rows of headings, merged cells, loads by phase, no poles column."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "LP-2"
    rows: list[list[object]] = [
        [None, "LIGHTING PANEL LP-2"],
        [None, "277/480 V, 3 phase, 4 wire", None, None, "MAIN 100 A"],
        [],
        ["CIR", "CIRCUIT", "TRIP", "LOAD (VA)", None, None, "RUN"],
        ["NO", "DESCRIPTION", "AMPS", "A", "B", "C", "(M)"],
        [1, "Hall lights", 20, 1800, None, None, 40.5],
        [2, "Yard lights", 20, 1200, None, None, 120],
        [3, "Hall lights 2", 20, None, 1750.0, None, 55],
        [4, "Unit heater", 30, None, 4000, None, 31],
        [6, "do", None, None, None, 4000, None],
        [8, "do", None, 4000, None, None, None],
        [5, "Spare", 20],
        [7, "Space"],
        [9, "=SUM(D6:D13)", 20, None, 300, None, 10],
        [None, None, None, 7000, 6050, 4000],
        [None, "TOTAL", None, 7000, 6050, 4000],
    ]
    for row in rows:
        sheet.append(row)
    sheet.merge_cells("D4:F4")
    book.create_sheet("notes").append(["nothing here"])
    book.save(path)
