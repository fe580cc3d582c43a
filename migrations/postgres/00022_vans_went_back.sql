-- Vans that went back: what sqlite's of the same number says, for PostgreSQL.

-- +goose Up

ALTER TABLE stock_vans ADD COLUMN back_on TEXT COLLATE "C" NOT NULL DEFAULT '' CHECK (length(back_on) IN (0, 10));
ALTER TABLE stock_vans ADD COLUMN back_entry BIGINT NOT NULL DEFAULT 0 CHECK (back_entry >= 0);

DROP INDEX van_stands_in_stock_once;
CREATE UNIQUE INDEX van_stands_in_stock_once ON stock_vans (workshop_id, van) WHERE sold_on = '' AND back_on = '';
