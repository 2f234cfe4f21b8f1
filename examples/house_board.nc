(House board OAKEN, 240 x 90 mm: five letters, a border, a swash; an invented plan)
(mm and mm/min; x, y from the lower left corner; the face of the board is z = 0)
(Bit: V, 90 degrees included. Its marking and the manuals of router and machine come first)
(Check before use, and run it in air first. Clamps lower than z = 5)
G21 G90 G17 G94
G0 Z5
S16000 M3
G4 P3

(Border, 1.5 deep, corners of radius 12)
G0 X20 Y8
G1 Z-1.5 F300
G1 X220 F1800
G3 X232 Y20 J12
G1 Y70
G3 X220 Y82 I-12
G1 X20
G3 X8 Y70 J-12
G1 Y20
G3 X20 Y8 I12
G0 Z5

(O: two half circles and two stems, closed)
G0 X58 Y40
G1 Z-3 F300
G1 Y50 F1500
G3 X28 Y50 I-15
G1 Y40
G3 X58 Y40 I15
G0 Z5

(A: both legs, then the bar)
G0 X68 Y25
G1 Z-3 F300
G1 X84 Y65 F1500
G1 X100 Y25
G0 Z5
G0 X73.6 Y39
G1 Z-2 F300
G1 X94.4 F1500
G0 Z5

(K: stem, then arm and leg)
G0 X110 Y65
G1 Z-3 F300
G1 Y25 F1500
G0 Z5
G0 X136 Y65
G1 Z-3 F300
G1 X112 Y46 F1500
G1 X138 Y25
G0 Z5

(E: three sides, then the bar, which runs out like a chisel's)
G0 X172 Y65
G1 Z-3 F300
G1 X148 F1500
G1 Y25
G1 X172
G0 Z5
G0 X148 Y45
G1 Z-3 F300
G1 X162 F1500
G1 X169 Z1
G0 Z5

(N: one stroke with two sharp corners)
G0 X182 Y25
G1 Z-3 F300
G1 Y65 F1500
G1 X212 Y25
G1 Y65
G0 Z5

(Swash under the name: two helices, in from the air and out again)
G0 X66 Y16
G1 Z0.4 F600
G3 X120 Y16 Z-1.2 R110 F1500
G2 X174 Y16 Z0.4 R110
G0 Z5

G0 X0 Y0
M5
M2
