package store

import (
	"context"
	"reflect"
	"strconv"
	"strings"
	"sync"

	"gorm.io/gorm/schema"
)

// put writes a new row as it stands; its workshop must have been bound. gorm
// would build the same statement anew for each row, at about the price of
// running it.
func (s *session) put(row tabled) error {
	if _, err := s.usable(); err != nil {
		return err
	}
	s.writesTo(row.TableName())
	i, err := insertionOf(row)
	if err != nil {
		return err
	}
	_, err = s.line.conn.ExecContext(s.ctx, i.statement, i.values(s.ctx, row)...)
	return s.note(err)
}

// tabled is a row that knows its table.
type tabled interface{ TableName() string }

// insertion is how rows of one type are written.
type insertion struct {
	statement string
	fields    []*schema.Field
}

// insertions made so far, by the rows' type.
var insertions, schemas sync.Map

// insertionOf works out from a row's type what gorm calls its columns.
func insertionOf(row tabled) (*insertion, error) {
	kind := reflect.TypeOf(row)
	if known, ok := insertions.Load(kind); ok {
		return known.(*insertion), nil //nolint:errcheck,forcetypeassert // nothing else is in there
	}
	fields, columns, err := fieldsOf(row)
	if err != nil {
		return nil, err
	}
	i := &insertion{fields: fields}
	var places []string
	for n := range fields {
		places = append(places, "$"+strconv.Itoa(n+1))
	}
	i.statement = `INSERT INTO "` + row.TableName() + `" (` + strings.Join(columns, ", ") + ") VALUES (" + strings.Join(places, ", ") + ")"
	insertions.Store(kind, i)
	return i, nil
}

// fieldsOf gives a row's fields and what gorm calls the columns they are in,
// in quotes.
func fieldsOf(row tabled) (fields []*schema.Field, columns []string, err error) {
	parsed, err := schema.Parse(row, &schemas, schema.NamingStrategy{})
	if err != nil {
		return nil, nil, err
	}
	for _, name := range parsed.DBNames {
		fields = append(fields, parsed.FieldsByDBName[name])
		columns = append(columns, `"`+name+`"`)
	}
	return fields, columns, nil
}

func (i *insertion) values(ctx context.Context, row any) []any {
	of := reflect.ValueOf(row)
	values := make([]any, len(i.fields))
	for n, f := range i.fields {
		values[n], _ = f.ValueOf(ctx, of)
	}
	return values
}
