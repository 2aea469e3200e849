"""First tables: products, supply, ledger, stock, jobs, settings, stored plans."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

AMOUNT = sa.BigInteger().with_variant(sa.Integer, "sqlite")
MOMENT = sa.DateTime(timezone=True)
SQLITE_APPLICATION_ID = 0x53544B50  # 'STKP': tells a stockplan store from other SQLite files


def upgrade() -> None:
    create_catalogue()
    create_stock()
    create_schedule()
    create_records()
    if op.get_bind().dialect.name == "sqlite":
        op.execute(f"PRAGMA application_id = {SQLITE_APPLICATION_ID}")
        guard_ledger_sqlite()
    else:
        guard_ledger_postgresql()


def downgrade() -> None:
    if op.get_bind().dialect.name != "sqlite":
        op.execute("DROP TRIGGER movement_row_guard ON movement")
        op.execute("DROP TRIGGER movement_truncate_guard ON movement")
        op.execute("DROP FUNCTION refuse_ledger_change()")
    for table in ("stored_plan", "setting", "lawn_corner", "strip", "job", "stock_item", "movement", "supply_option"):
        op.drop_table(table)
    op.drop_table("product")
    if op.get_bind().dialect.name == "sqlite":
        op.execute("PRAGMA application_id = 0")


def create_catalogue() -> None:
    op.create_table(
        "product",
        sa.Column("code", sa.Text, nullable=False),
        sa.Column("description", sa.Text, nullable=False),
        sa.Column("weight_g_m2", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("code", name="pk_product"),
        sa.CheckConstraint("weight_g_m2 > 0", name=op.f("ck_product_weight_positive")),
    )
    op.create_table(
        "supply_option",
        sa.Column("product", sa.Text, nullable=False),
        sa.Column("supplier", sa.Text, nullable=False),
        sa.Column("form", sa.Text, nullable=False),
        sa.Column("width_mm", sa.Integer, nullable=False),
        sa.Column("length_mm", sa.Integer, nullable=False),
        sa.Column("lead_days", sa.Integer, nullable=False),
        sa.Column("price_pence", AMOUNT, nullable=False),
        sa.PrimaryKeyConstraint(
            "product", "supplier", "form", "width_mm", "length_mm", "lead_days", name="pk_supply_option"
        ),
        sa.ForeignKeyConstraint(["product"], ["product.code"], name="fk_supply_option_product_product"),
        sa.CheckConstraint("form IN ('roll', 'cut_length')", name=op.f("ck_supply_option_form_known")),
        sa.CheckConstraint(
            "width_mm > 0 AND length_mm > 0 AND price_pence >= 0 AND lead_days >= 0",
            name=op.f("ck_supply_option_sizes_sound"),
        ),
    )


def create_stock() -> None:
    op.create_table(
        "movement",
        sa.Column("number", AMOUNT, nullable=False, autoincrement=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("tag", sa.Text, nullable=False),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("values_json", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_movement"),
        sa.CheckConstraint("number > 0", name=op.f("ck_movement_number_positive")),
    )
    op.create_index("ix_movement_tag", "movement", ["tag"])
    op.create_table(
        "stock_item",
        sa.Column("tag", sa.Text, nullable=False),
        sa.Column("product", sa.Text, nullable=False),
        sa.Column("batch", sa.Text, nullable=False),
        sa.Column("form", sa.Text, nullable=False),
        sa.Column("width_mm", sa.Integer, nullable=False),
        sa.Column("length_mm", sa.Integer, nullable=False),
        sa.Column("bay", sa.Text, nullable=False),
        sa.Column("cost_pence_per_m2", AMOUNT, nullable=False),
        sa.PrimaryKeyConstraint("tag", name="pk_stock_item"),
        sa.ForeignKeyConstraint(["product"], ["product.code"], name="fk_stock_item_product_product"),
        sa.CheckConstraint("form IN ('roll', 'part_roll', 'offcut')", name=op.f("ck_stock_item_form_known")),
        sa.CheckConstraint(
            "width_mm > 0 AND length_mm > 0 AND cost_pence_per_m2 >= 0", name=op.f("ck_stock_item_sizes_sound")
        ),
    )
    op.create_index("ix_stock_item_product", "stock_item", ["product"])


def create_schedule() -> None:
    op.create_table(
        "job",
        sa.Column("code", sa.Text, nullable=False),
        sa.Column("site", sa.Text, nullable=False),
        sa.Column("product", sa.Text, nullable=False),
        sa.Column("lay_on", sa.Date, nullable=False),
        sa.Column("pile_towards", sa.Text, nullable=False),
        sa.Column("batch_rule", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("code", name="pk_job"),
        sa.ForeignKeyConstraint(["product"], ["product.code"], name="fk_job_product_product"),
        sa.CheckConstraint("batch_rule IN ('one', 'any')", name=op.f("ck_job_batch_rule_known")),
    )
    op.create_index("ix_job_lay_on", "job", ["lay_on"])
    op.create_table(
        "strip",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("label", sa.Text, nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("width_mm", sa.Integer, nullable=False),
        sa.Column("length_mm", sa.Integer, nullable=False),
        sa.Column("count", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("job", "label", name="pk_strip"),
        sa.ForeignKeyConstraint(["job"], ["job.code"], name="fk_strip_job_job", ondelete="CASCADE"),
        sa.CheckConstraint("width_mm > 0 AND length_mm > 0 AND count > 0", name=op.f("ck_strip_sizes_sound")),
    )
    op.create_table(
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


def create_records() -> None:
    op.create_table(
        "setting",
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_setting"),
    )
    op.create_table(
        "stored_plan",
        sa.Column("number", AMOUNT, nullable=False, autoincrement=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("window_first", sa.Date, nullable=False),
        sa.Column("window_last", sa.Date, nullable=False),
        sa.Column("today", sa.Date, nullable=False),
        sa.Column("net_cost_pence", AMOUNT, nullable=False),
        sa.Column("lower_bound_pence", AMOUNT, nullable=False),
        sa.Column("plan_json", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_stored_plan"),
    )


def guard_ledger_sqlite() -> None:
    for action in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER movement_no_{action.lower()} BEFORE {action} ON movement "
            "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END"
        )
    # INSERT OR REPLACE removes the old row without a DELETE trigger
    op.execute(
        "CREATE TRIGGER movement_no_replace BEFORE INSERT ON movement "
        "WHEN EXISTS (SELECT 1 FROM movement WHERE number = NEW.number) "
        "BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END"
    )


def guard_ledger_postgresql() -> None:
    op.execute(
        "CREATE FUNCTION refuse_ledger_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'the ledger is append-only'; END $$"
    )
    op.execute(
        "CREATE TRIGGER movement_row_guard BEFORE UPDATE OR DELETE ON movement "
        "FOR EACH ROW EXECUTE FUNCTION refuse_ledger_change()"
    )
    op.execute(
        "CREATE TRIGGER movement_truncate_guard BEFORE TRUNCATE ON movement "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_ledger_change()"
    )
