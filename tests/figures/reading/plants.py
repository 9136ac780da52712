"""Plants that the samples do not show, as sketches: building blocks for the tests of reading and rules."""

ONE_BOILER = """
B1 > t1 : 0.3
t1 > RV1 : 0.2
t1 > P1 > A : 3
Z > B1 : 3
A > Z : 0.15
"""
SYSTEM = """
A > x > PS > s : 2
x > XT : 0.5
s > ZV1 > E1 > Z : 20
"""
SENSOR = "s system supply"
SENSORS = "s system supply; IT tank"

TWO_BOILERS = """
B1 > t1 > P1 > C1 > S2 : 2
t1 > RV1
B2 > t2 > P2 > C2 > S2 : 1
t2 > RV2
S2 > A : 2
Z > R1 : 3
R1 > B1 : 1
R1 > B2 : 2
A > Z : 0.15
"""
THREE_BOILERS = """
B3 > t3 > P3 > C3 > S3 : 30
t3 > RV3
B2 > t2 > P2 > C2 > S2 : 1
t2 > RV2
B1 > t1 > P1 > C1 > S2 : 2
t1 > RV1
S2 > S3 : 1
S3 > A : 2
Z > R1 : 3
R1 > B1 : 3
R1 > R2 : 1
R2 > B2 : 1
R2 > B3 : 2
A > Z : 0.15
""" + SYSTEM
SINGLE = """
B1 > t1 > MV1 > S2 : 3
t1 > RV1
B2 > t2 > MV2 > S2 : 1
t2 > RV2
S2 > Y1 : 2
Y2 > R1 : 3
R1 > B1 : 1
R1 > B2 : 2
Y2 > BV1 > Y1
Y1 > x > PS > s > M1 : 2
x > XT
M1 > ZV1 > E1 > N1 : 9
N1 > Y2
"""
PER_LOAD = """
B1 > t1 > P1 > C1 > S2 : 2
t1 > RV1
B2 > t2 > P2 > C2 > S2 : 1
t2 > RV2
S2 > H : 2
K > R1 : 3
R1 > B1 : 1
R1 > B2 : 2
H > A1 : 1
A1 > Z1 : 0.15
Z1 > A2 : 1
A2 > Z2 : 0.15
Z2 > K : 1
A1 > x > PS > s > ZV1 > E1 > Z1 : 9
x > XT
A2 > PT > C9 > IT > Z2 : 4
"""
PER_BOILER = """
B1 > t1 > P1 > C1 > Z1 : 2
t1 > RV1
A1 > B1
A1 > Z1 : 0.15
Z1 > A2 : 1
B2 > t2 > P2 > C2 > Z2 : 2
t2 > RV2
A2 > B2
A2 > Z2 : 0.15
Z2 > x > PS > s > ZV1 > E1 > A1 : 9
x > XT
"""
SEPARATOR = """
B1 > t1 > P1 > C1 > S2 : 2
t1 > RV1
B2 > t2 > P2 > C2 > S2 : 1
t2 > RV2
S2 > HS1.b_supply : 2
HS1.b_return > R1 : 3
R1 > B1 : 1
R1 > B2 : 2
HS1.a_supply > x > PS > s > M1 : 2
x > XT
M1 > ZV1 > E1 > N1 : 9
N1 > HS1.a_return
"""


def changed(plant: str, *pairs: tuple[str, str], plus: str = "") -> str:
    """A sketch with words replaced (each must be there) and lines added."""
    for old, new in pairs:
        assert old in plant, old
        plant = plant.replace(old, new)
    return plant + plus + "\n"


ON_BOILER_LOOP = changed(ONE_BOILER, ("Z > B1 : 3", "Z > d : 1\nd > B1 : 2"), ("t1 > P1 > A : 3", "t1 > P1 > e : 2\ne > A : 1"),
                         plus=SYSTEM + "e > PT > C1 > IT > d : 4")
