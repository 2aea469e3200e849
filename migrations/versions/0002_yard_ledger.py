"""The yard: plan, parent and reversal of a movement; promises about stock; what is gone; the life of plans; orders."""

import json
from datetime import UTC, date, datetime

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

AMOUNT = sa.BigInteger().with_variant(sa.Integer, "sqlite")
MOMENT = sa.DateTime(timezone=True)
FIRST_KINDS = ("received", "corrected", "written_off")
ITEM = ("product", "batch", "form", "width_mm", "length_mm", "bay", "cost_pence_per_m2")


def upgrade() -> None:
    widen_ledger()
    stock, gone, account = add_up()
    op.drop_table("stock_item")
    create_stock()
    create_gone()
    create_plans_and_orders()
    fill("stock_item", stock)
    fill("gone_item", gone)
    fill("yard_account", [account])


def downgrade() -> None:
    known = ", ".join(f"'{kind}'" for kind in FIRST_KINDS)
    newer = op.get_bind().scalar(sa.text(f"SELECT count(*) FROM movement WHERE kind NOT IN ({known})"))
    if newer:
        raise ValueError(f"{newer} movements are of kinds that the older tables cannot hold")
    stock, _, _ = add_up()
    for table in ("order_receipt", "order_line", "plan_state", "yard_account", "piece_cut", "gone_item", "stock_item"):
        op.drop_table(table)
    op.create_table("stock_item", *item_columns(), *item_rules("stock_item"))
    op.create_index("ix_stock_item_product", "stock_item", ["product"])
    fill("stock_item", [{name: row[name] for name in ("tag", *ITEM)} for row in stock])
    for column in ("reverses", "plan", "parent"):
        op.drop_index(f"ix_movement_{column}", "movement")
        op.drop_column("movement", column)


def widen_ledger() -> None:
    op.add_column("movement", sa.Column("plan", AMOUNT, nullable=True))
    op.add_column("movement", sa.Column("parent", sa.Text, nullable=True))
    op.add_column("movement", sa.Column("reverses", AMOUNT, nullable=True))
    op.create_index("ix_movement_plan", "movement", ["plan"])
    op.create_index("ix_movement_parent", "movement", ["parent"])
    op.create_index("ix_movement_reverses", "movement", ["reverses"], unique=True)


def item_columns() -> list[sa.Column]:
    return [
        sa.Column("tag", sa.Text, nullable=False),
        sa.Column("product", sa.Text, nullable=False),
        sa.Column("batch", sa.Text, nullable=False),
        sa.Column("form", sa.Text, nullable=False),
        sa.Column("width_mm", sa.Integer, nullable=False),
        sa.Column("length_mm", sa.Integer, nullable=False),
        sa.Column("bay", sa.Text, nullable=False),
        sa.Column("cost_pence_per_m2", AMOUNT, nullable=False),
    ]


def item_rules(table: str) -> list[sa.Constraint]:
    return [
        sa.PrimaryKeyConstraint("tag", name=f"pk_{table}"),
        sa.ForeignKeyConstraint(["product"], ["product.code"], name=f"fk_{table}_product_product"),
        sa.CheckConstraint("form IN ('roll', 'part_roll', 'offcut')", name=op.f(f"ck_{table}_form_known")),
        sa.CheckConstraint(
            "width_mm > 0 AND length_mm > 0 AND cost_pence_per_m2 >= 0", name=op.f(f"ck_{table}_sizes_sound")
        ),
    ]


def create_stock() -> None:
    op.create_table(
        "stock_item",
        *item_columns(),
        sa.Column("plan", AMOUNT, nullable=True),
        sa.Column("quote", sa.Text, nullable=True),
        sa.Column("held_until", sa.Date, nullable=True),
        sa.Column("condition", sa.Text, nullable=True),
        sa.Column("last_seen", sa.Date, nullable=True),
        sa.Column("since", sa.Date, nullable=True),
        sa.Column("parent", sa.Text, nullable=True),
        sa.Column("latest", AMOUNT, nullable=False),
        *item_rules("stock_item"),
        sa.CheckConstraint("(quote IS NULL) = (held_until IS NULL)", name=op.f("ck_stock_item_hold_whole")),
    )
    for column in ("product", "bay", "plan", "last_seen"):
        op.create_index(f"ix_stock_item_{column}", "stock_item", [column])


def create_gone() -> None:
    op.create_table(
        "gone_item",
        *item_columns(),
        sa.Column("how", sa.Text, nullable=False),
        sa.Column("plan", AMOUNT, nullable=True),
        sa.Column("returned_mm2", AMOUNT, nullable=False),
        sa.Column("binned_mm2", AMOUNT, nullable=False),
        sa.Column("parent", sa.Text, nullable=True),
        sa.Column("latest", AMOUNT, nullable=False),
        sa.PrimaryKeyConstraint("tag", name="pk_gone_item"),
        sa.ForeignKeyConstraint(["product"], ["product.code"], name="fk_gone_item_product_product"),
        sa.CheckConstraint("how IN ('cut', 'written_off')", name=op.f("ck_gone_item_how_known")),
    )
    op.create_table(
        "piece_cut",
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("strip", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("width_mm", sa.Integer, nullable=False),
        sa.Column("length_mm", sa.Integer, nullable=False),
        sa.Column("spoiled", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("source", "position", name="pk_piece_cut"),
        sa.ForeignKeyConstraint(
            ["source"], ["gone_item.tag"], name="fk_piece_cut_source_gone_item", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_piece_cut_job", "piece_cut", ["job"])
    sums = ("area_in_mm2", "area_used_mm2", "area_written_off_mm2", "value_in", "value_used", "value_written_off")
    op.create_table(
        "yard_account",
        sa.Column("number", sa.Integer, nullable=False, autoincrement=False),
        *(sa.Column(name, AMOUNT, nullable=False) for name in sums),
        sa.PrimaryKeyConstraint("number", name="pk_yard_account"),
        sa.CheckConstraint("number = 1", name=op.f("ck_yard_account_one_row")),
    )


def create_plans_and_orders() -> None:
    op.create_table(
        "plan_state",
        sa.Column("plan", AMOUNT, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("plan", "state", name="pk_plan_state"),
        sa.ForeignKeyConstraint(["plan"], ["stored_plan.number"], name="fk_plan_state_plan_stored_plan"),
        sa.CheckConstraint(
            "state IN ('proposed', 'accepted', 'done', 'withdrawn')", name=op.f("ck_plan_state_state_known")
        ),
    )
    op.create_table(
        "order_line",
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("plan", AMOUNT, nullable=True),
        sa.Column("plan_key", sa.Text, nullable=False),
        sa.Column("product", sa.Text, nullable=False),
        sa.Column("supplier", sa.Text, nullable=False),
        sa.Column("form", sa.Text, nullable=False),
        sa.Column("width_mm", sa.Integer, nullable=False),
        sa.Column("length_mm", sa.Integer, nullable=False),
        sa.Column("price_pence", AMOUNT, nullable=False),
        sa.Column("order_by", sa.Date, nullable=False),
        sa.Column("arrives_on", sa.Date, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("ordered_on", sa.Date, nullable=True),
        sa.Column("received_on", sa.Date, nullable=True),
        sa.PrimaryKeyConstraint("key", name="pk_order_line"),
        sa.ForeignKeyConstraint(["plan"], ["stored_plan.number"], name="fk_order_line_plan_stored_plan"),
        sa.ForeignKeyConstraint(["product"], ["product.code"], name="fk_order_line_product_product"),
        sa.CheckConstraint("form IN ('roll', 'cut_length')", name=op.f("ck_order_line_form_known")),
        sa.CheckConstraint(
            "state IN ('draft', 'ordered', 'received', 'cancelled')", name=op.f("ck_order_line_state_known")
        ),
        sa.CheckConstraint(
            "width_mm > 0 AND length_mm > 0 AND price_pence >= 0", name=op.f("ck_order_line_sizes_sound")
        ),
    )
    op.create_index("ix_order_line_plan", "order_line", ["plan"])
    op.create_index("ix_order_line_state", "order_line", ["state"])
    op.create_table(
        "order_receipt",
        sa.Column("tag", sa.Text, nullable=False),
        sa.Column("order_key", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("tag", name="pk_order_receipt"),
        sa.ForeignKeyConstraint(["order_key"], ["order_line.key"], name="fk_order_receipt_order_key_order_line"),
    )
    op.create_index("ix_order_receipt_order_key", "order_receipt", ["order_key"])


def add_up() -> tuple[list[dict], list[dict], dict]:
    """Work out stock, what is gone, and the account from a ledger of the first three kinds of movement."""
    stock: dict[str, dict] = {}
    gone: dict[str, dict] = {}
    movement = sa.table("movement", *(sa.column(name) for name in ("number", "kind", "tag", "values_json")))
    query = sa.select(movement.c.number, sa.literal_column("at", MOMENT), *list(movement.c)[1:])
    area_in = value_in = area_off = value_off = 0
    for number, at, kind, tag, values_json in op.get_bind().execute(query.order_by(movement.c.number)):
        values = json.loads(values_json)
        if kind == "received":
            stock[tag] = {"tag": tag, "since": _day(at), **values, **dict.fromkeys(("plan", "quote", "parent"))}
            stock[tag] |= {"held_until": None, "condition": None}
            area_in, value_in = area_in + _area(stock[tag]), value_in + _value(stock[tag])
        elif kind == "corrected":
            before = stock[tag]
            stock[tag] = {**before, **values}
            area_in += _area(stock[tag]) - _area(before)
            value_in += _value(stock[tag]) - _value(before)
        else:
            item = stock.pop(tag)
            area_off, value_off = area_off + _area(item), value_off + _value(item)
            gone[tag] = {name: item[name] for name in ("tag", *ITEM)}
            gone[tag] |= {"how": "written_off", "plan": None, "parent": None, "latest": number}
            gone[tag] |= {"returned_mm2": 0, "binned_mm2": 0}
        if tag in stock:
            stock[tag] |= {"last_seen": _day(at), "latest": number}
    account = {"number": 1, "area_in_mm2": area_in, "area_used_mm2": 0, "area_written_off_mm2": area_off}
    account |= {"value_in": value_in, "value_used": 0, "value_written_off": value_off}
    return list(stock.values()), list(gone.values()), account


def _area(item: dict) -> int:
    return item["width_mm"] * item["length_mm"]


def _value(item: dict) -> int:
    return _area(item) * item["cost_pence_per_m2"]


def _day(at: datetime) -> date:
    return (at.astimezone(UTC) if at.tzinfo else at).date()


def fill(name: str, rows: list[dict]) -> None:
    if rows:
        dates = {"since", "held_until", "last_seen"}
        columns = [sa.column(column, sa.Date if column in dates else None) for column in rows[0]]
        op.get_bind().execute(sa.insert(sa.table(name, *columns)), rows)
