"""Parts of study files that several tests share."""

WEATHER = """\
[climate]
sample = "hut_valley"

"""
ROOF = """\
[assembly.roof]
tilt = "5 deg"
azimuth = "180 deg"
finish = "new wood"
parts = [
    { layer = "plywood 500", thickness = "12 mm", name = "deck" },
    { sheet = "house wrap" },
]
"""
