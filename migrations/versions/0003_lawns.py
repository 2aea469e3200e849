"""Lawns with holes apart, named edges, place, north and pile; a job's pile wish.

Outlines kept before had no way of telling two holes apart: a hole begins where the corners are counted anew. What
cannot be an outline, a ring of fewer than three corners, is left out; nothing was made of it so far.
"""

import json
from itertools import groupby

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("job", sa.Column("pile", sa.Text, nullable=False, server_default=""))
    old = op.get_bind().execute(
        sa.text("SELECT job, lawn, corner, x_mm, y_mm, part FROM lawn_corner ORDER BY job, position")
    )
    corners = [tuple(row) for row in old]
    op.drop_table("lawn_corner")
    lawn, corner = create_lawn(), create_corner()
    lawns, rings = [], []
    positions: dict[str, int] = {}
    for (job, label), found in groupby(sorted(corners, key=lambda row: row[:2]), key=lambda row: row[:2]):
        sound = [ring for ring in rings_of(list(found)) if len(ring) >= 3]
        if not sound or sound[0][0][5] != "edge":
            continue
        positions[job] = positions.get(job, -1) + 1
        lawns.append({"job": job, "label": label, "position": positions[job], "place": "other", "y_bearing": None})
        lawns[-1] |= {"pile": "", "unseen_from_json": json.dumps([])}
        for ring, places in enumerate(sound):
            for number, (_, _, _, x_mm, y_mm, _) in enumerate(places):
                rings.append({"job": job, "lawn": label, "ring": ring, "corner": number, "x_mm": x_mm, "y_mm": y_mm})
                rings[-1] |= {"edge_name": "", "no_seam": False}
    for table, rows in ((lawn, lawns), (corner, rings)):
        if rows:
            op.bulk_insert(table, rows)


def rings_of(corners: list[tuple]) -> list[list[tuple]]:
    """The edge in the order of its corner numbers where each is given once, else as given; then the holes."""
    edge = [row for row in corners if row[5] == "edge"]
    if len({row[2] for row in edge}) == len(edge):
        edge.sort(key=lambda row: row[2])
    rings = [edge] if edge else []
    last = None
    for row in corners:
        if row[5] == "hole":
            if last is None or row[2] <= last:
                rings.append([])
            rings[-1].append(row)
            last = row[2]
    return rings


def create_lawn() -> sa.Table:
    return op.create_table(
        "lawn",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("label", sa.Text, nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("place", sa.Text, nullable=False),
        sa.Column("y_bearing", sa.Integer, nullable=True),
        sa.Column("pile", sa.Text, nullable=False),
        sa.Column("unseen_from_json", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("job", "label", name="pk_lawn"),
        sa.ForeignKeyConstraint(["job"], ["job.code"], name="fk_lawn_job_job", ondelete="CASCADE"),
        sa.CheckConstraint("place IN ('back', 'front', 'other')", name=op.f("ck_lawn_place_known")),
        sa.CheckConstraint("y_bearing >= 0 AND y_bearing < 360000", name=op.f("ck_lawn_y_bearing_in_circle")),
    )


def create_corner() -> sa.Table:
    return op.create_table(
        "lawn_corner",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("lawn", sa.Text, nullable=False),
        sa.Column("ring", sa.Integer, nullable=False),
        sa.Column("corner", sa.Integer, nullable=False),
        sa.Column("x_mm", sa.Integer, nullable=False),
        sa.Column("y_mm", sa.Integer, nullable=False),
        sa.Column("edge_name", sa.Text, nullable=False),
        sa.Column("no_seam", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("job", "lawn", "ring", "corner", name="pk_lawn_corner"),
        sa.ForeignKeyConstraint(
            ["job", "lawn"], ["lawn.job", "lawn.label"], name="fk_lawn_corner_job_lawn", ondelete="CASCADE"
        ),
    )


def downgrade() -> None:
    found = op.get_bind().execute(
        sa.text(
            "SELECT c.job, c.lawn, c.ring, c.corner, c.x_mm, c.y_mm FROM lawn_corner c "
            "JOIN lawn l ON l.job = c.job AND l.label = c.lawn ORDER BY c.job, l.position, c.ring, c.corner"
        )
    )
    rows = []
    for job, corners in groupby(found, key=lambda row: row[0]):
        for position, (_, lawn, ring, corner, x_mm, y_mm) in enumerate(corners):
            part = "hole" if ring else "edge"
            rows.append({"job": job, "position": position, "lawn": lawn, "corner": corner + 1})
            rows[-1] |= {"x_mm": x_mm, "y_mm": y_mm, "part": part}
    op.drop_table("lawn_corner")
    op.drop_table("lawn")
    op.drop_column("job", "pile")
    older = op.create_table(
        "lawn_corner",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("lawn", sa.Text, nullable=False),
        sa.Column("corner", sa.Integer, nullable=False),
        sa.Column("x_mm", sa.Integer, nullable=False),
        sa.Column("y_mm", sa.Integer, nullable=False),
        sa.Column("part", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("job", "position", name="pk_lawn_corner"),
        sa.ForeignKeyConstraint(["job"], ["job.code"], name="fk_lawn_corner_job_job", ondelete="CASCADE"),
        sa.CheckConstraint("part IN ('edge', 'hole')", name=op.f("ck_lawn_corner_part_known")),
    )
    if rows:
        op.bulk_insert(older, rows)
