package store

import (
	"context"
	"fmt"
	"maps"
	"reflect"
	"slices"
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

// rowsAtOnce is how many rows one statement writes: both databases take some
// 32,000 values in one.
const rowsAtOnce = 200

// putAll writes new rows of one type as they stand, many to a statement.
func (s *session) putAll(rows []bound) error {
	for begin := 0; begin < len(rows); begin += rowsAtOnce {
		some := rows[begin:min(len(rows), begin+rowsAtOnce)]
		if _, err := s.usable(); err != nil {
			return err
		}
		s.writesTo(some[0].TableName())
		i, err := insertionOf(some[0])
		if err != nil {
			return err
		}
		values := make([]any, 0, len(some)*len(i.fields))
		for _, row := range some {
			values = append(values, i.values(s.ctx, row)...)
		}
		if _, err = s.line.conn.ExecContext(s.ctx, i.several(len(some)), values...); err != nil {
			return s.note(err)
		}
	}
	return nil
}

// several is the statement that writes so many rows.
func (i *insertion) several(rows int) string {
	var b strings.Builder
	b.WriteString(i.statement)
	for r := 1; r < rows; r++ {
		for n := range i.fields {
			if n == 0 {
				b.WriteString(", ($")
			} else {
				b.WriteString(", $")
			}
			b.WriteString(strconv.Itoa(r*len(i.fields) + n + 1))
		}
		b.WriteString(")")
	}
	return b.String()
}

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

// put sets columns of the rows, and says of how many. Here too gorm would take
// as long as the database, except where a value of a condition is a list.
func (r rows[R]) put(columns map[string]any) (int64, error) {
	if r.lists() {
		done := r.query().Updates(columns)
		return done.RowsAffected, done.Error
	}
	names := slices.Sorted(maps.Keys(columns))
	statement, err := updateOf[R](names, r.conditions)
	if err != nil {
		return 0, err
	}
	values := make([]any, 0, len(names)+1+len(r.conditions))
	for _, name := range names {
		values = append(values, columns[name])
	}
	values = append(values, r.s.as.Workshop)
	for _, c := range r.conditions {
		values = append(values, c.values...)
	}
	done, err := r.s.line.conn.ExecContext(r.s.ctx, statement, values...)
	if err != nil {
		return 0, err
	}
	return done.RowsAffected()
}

// updates made so far, by updateKey.
var updates sync.Map

type updateKey struct{ table, columns, rest string }

func updateOf[R any](columns []string, conditions []condition) (string, error) {
	key := updateKey{table: tableOf[R](), columns: strings.Join(columns, ",")}
	for _, c := range conditions {
		key.rest += c.says + "\x00"
	}
	if known, ok := updates.Load(key); ok {
		return known.(string), nil //nolint:errcheck,forcetypeassert // nothing else is in there
	}
	if key.table == "" {
		return "", fmt.Errorf("%T is a row of no table", new(R))
	}
	t := sqlText{}
	t.say(`UPDATE "` + key.table + `" SET `)
	for i, name := range columns {
		if i > 0 {
			t.say(", ")
		}
		t.say(`"` + name + `" = ?`)
	}
	t.say(" WHERE " + ofTheWorkshop)
	if err := t.narrow(conditions); err != nil {
		return "", err
	}
	updates.Store(key, t.String())
	return t.String(), nil
}
