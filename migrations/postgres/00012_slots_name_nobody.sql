-- What sqlite/00012 says, for PostgreSQL.

-- +goose Up

ALTER TABLE slots DROP COLUMN confirmed_from;
