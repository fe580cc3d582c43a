package main

import (
	"context"
	"fmt"

	"wainscot/api/store"
)

type migrateVerb struct {
	Database string `help:"Database file; it is made if it is not there." default:"wainscot.db" env:"WAINSCOT_DATABASE"`
}

// Help is shown by wainscot migrate --help.
func (migrateVerb) Help() string {
	return `Stop the server and copy the database before you migrate one that matters. A database that is newer than this program is refused.

Example:

  wainscot migrate --database wainscot.db`
}

// Run brings the database up.
func (v migrateVerb) Run(ctx context.Context, p *program) error {
	return p.migrate(ctx, v.Database)
}

func (p *program) migrate(ctx context.Context, database string) error {
	v, err := store.Migrate(ctx, database)
	if err != nil {
		return fmt.Errorf("%s: %w", database, err)
	}
	if v.From == v.To {
		fmt.Fprintf(p.Out, "%s stands at migration %d already.\n", database, v.To)
		return nil
	}
	fmt.Fprintf(p.Out, "%s was brought from migration %d to %d.\n", database, v.From, v.To)
	return nil
}
