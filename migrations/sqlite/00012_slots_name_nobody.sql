-- Who said that a van comes is kept with the job.

-- +goose Up

ALTER TABLE slots DROP COLUMN confirmed_from;
