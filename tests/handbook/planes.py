"""Stones as plane arrays for tests, built here by hand so that they check the handbook's solids and light from outside.

Each maker gives ``(normals (F, 3), offsets (F,))``, outward, inside where n.x <= offset; girdle at z = 0 (its lower
edge), table up.
"""

import numpy as np


def sin(degrees):
    return np.sin(np.radians(degrees))


def cos(degrees):
    return np.cos(np.radians(degrees))


def tan(degrees):
    return np.tan(np.radians(degrees))


def facet(angle_deg, azimuth_deg, offset, *, up):
    """A facet ``angle_deg`` from the girdle plane, facing ``azimuth_deg``."""
    z = cos(angle_deg) if up else -cos(angle_deg)
    return [sin(angle_deg) * sin(azimuth_deg), sin(angle_deg) * cos(azimuth_deg), z, offset]


def split(rows):
    rows = np.array(rows, dtype=float)
    return rows[:, :3], rows[:, 3]


def round_brilliant(
    pavilion=41.0, lower=None, crown=34.0, upper=41.2, star=22.5, table=0.56, girdle=0.02, girdle_facets=32
):
    """57 facets and a faceted girdle, width 1: mains, breaks and stars of a standard round.

    Defaults: T .56, crown 34 / 41.2 / 22.5, pavilion 41 / 42.2 (the design of rows G72 and G73, article named there).
    Every main starts at radius 1/2 on the girdle; every break touches the girdle circle half-way between its edges.
    """
    lower = pavilion + 1.2 if lower is None else lower
    r = 0.5
    rows = []
    for k in range(8):
        rows.append(facet(pavilion, 45 * k, r * sin(pavilion), up=False))
        rows.append(facet(crown, 45 * k, r * sin(crown) + girdle * cos(crown), up=True))
        # the star joins two corners of the table and passes through it along an edge of the octagon
        height = girdle + (r - table / 2) * tan(crown)
        edge = table / 2 * cos(22.5)
        rows.append(facet(star, 45 * k + 22.5, edge * sin(star) + height * cos(star), up=True))
        for side in (-11.25, 11.25):
            rows.append(facet(lower, 45 * k + side, r * sin(lower), up=False))
            rows.append(facet(upper, 45 * k + side, r * sin(upper) + girdle * cos(upper), up=True))
    rows.append([0, 0, 1, girdle + (r - table / 2) * tan(crown)])
    rows += [facet(90, 360 * (k + 0.5) / girdle_facets, r, up=True) for k in range(girdle_facets)]
    return split(rows)


def mains_only(pavilion, *, fold=8, table=0.6, crown=35.0, girdle=0.02):
    """A stone of ``fold`` mains above and below, width 1: the plain shape behind the closed form of the tilt."""
    rows = [[0, 0, 1, girdle + (0.5 - table / 2) * tan(crown)]]
    for k in range(fold):
        azimuth = 360 * k / fold
        rows.append(facet(pavilion, azimuth, 0.5 * sin(pavilion), up=False))
        rows.append(facet(crown, azimuth, 0.5 * sin(crown) + girdle * cos(crown), up=True))
        rows.append(facet(90, azimuth, 0.5, up=True))
    return split(rows)


def cube(side=1.0):
    """An axis-parallel cube about the origin."""
    return np.vstack([np.eye(3), -np.eye(3)]), np.full(6, side / 2)
