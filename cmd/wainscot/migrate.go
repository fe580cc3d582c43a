package main

import (
	"context"
	"fmt"

	"wainscot/api/store"
)

type migrateVerb struct {
	Database string `help:"Database: a file, made if it is not there, or postgres://role@host/database, with the role that owns the tables." default:"wainscot.db" env:"WAINSCOT_DATABASE"`
}

// Help is shown by wainscot migrate --help.
func (migrateVerb) Help() string {
	return `Stop the server and copy the database before you migrate one that matters. A database that is newer than this program is refused.

Examples:

  wainscot migrate --database wainscot.db
  wainscot migrate --database postgres://wainscot_owner@db.example/wainscot`
}

// Run brings the database up.
func (v migrateVerb) Run(ctx context.Context, p *program) error {
	return p.migrate(ctx, v.Database)
}

func (p *program) migrate(ctx context.Context, database string) error {
	v, err := store.Migrate(ctx, database)
	if err != nil {
		return err
	}
	name := store.Shown(database)
	if v.From == v.To {
		fmt.Fprintf(p.Out, "%s stands at migration %d already.\n", name, v.To)
		return nil
	}
	fmt.Fprintf(p.Out, "%s was brought from migration %d to %d.\n", name, v.From, v.To)
	return nil
}
