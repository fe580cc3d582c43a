package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"sync"

	"gorm.io/gorm/schema"
)

// condition narrows rows down: SQL with a ? for each of the values.
type condition struct {
	says   string
	values []any
}

// taken gives at most n of the rows, all of them below 0. gorm would build the
// same statement anew each time, at twice the price of running it; it still
// does where a value is a list, which makes another statement of every length.
func (r rows[R]) taken(n int) ([]R, error) {
	if r.lists() {
		var list []R
		return list, r.query().Limit(n).Find(&list).Error
	}
	s, err := selectionOf[R](r.conditions, r.by, n >= 0)
	if err != nil {
		return nil, err
	}
	values := []any{r.s.as.Workshop}
	for _, c := range r.conditions {
		values = append(values, c.values...)
	}
	if n >= 0 {
		values = append(values, n)
	}
	found, err := r.s.line.conn.QueryContext(r.s.ctx, s.statement, values...)
	if err != nil {
		return nil, err
	}
	return scanned[R](r.s.ctx, found, s.fields)
}

// lists says whether one of the values is a list.
func (r rows[R]) lists() bool {
	for _, c := range r.conditions {
		for _, v := range c.values {
			switch v.(type) {
			case driver.Valuer, string, int64, []byte:
			default:
				if kind := reflect.TypeOf(v); kind != nil && kind.Kind() == reflect.Slice {
					return true
				}
			}
		}
	}
	return false
}

func scanned[R any](ctx context.Context, found *sql.Rows, fields []*schema.Field) (list []R, err error) {
	defer func() { err = errors.Join(err, found.Close()) }()
	places := make([]any, len(fields))
	for found.Next() {
		var row R
		of := reflect.ValueOf(&row).Elem()
		for i, f := range fields {
			places[i] = f.ReflectValueOf(ctx, of).Addr().Interface()
		}
		if err := found.Scan(places...); err != nil {
			return nil, err
		}
		list = append(list, row)
	}
	return list, found.Err()
}

// selection is how rows of one type are asked for under conditions of one kind.
type selection struct {
	statement string
	fields    []*schema.Field
}

// selections made so far, by selectionKey. There are as many as there are
// places in the store that ask: no value is ever in a condition.
var selections sync.Map

type selectionKey struct {
	row  reflect.Type
	rest string // what narrows down and sorts
}

func selectionOf[R any](conditions []condition, by []string, limited bool) (*selection, error) {
	key := selectionKey{row: reflect.TypeFor[R]()}
	for _, c := range conditions {
		key.rest += c.says + "\x00"
	}
	key.rest += "\x00" + strings.Join(by, ", ")
	if limited {
		key.rest += "\x00"
	}
	if known, ok := selections.Load(key); ok {
		return known.(*selection), nil //nolint:errcheck,forcetypeassert // nothing else is in there
	}
	s, err := newSelection(new(R), conditions, by, limited)
	if err == nil {
		selections.Store(key, s)
	}
	return s, err
}

func newSelection(row any, conditions []condition, by []string, limited bool) (*selection, error) {
	of, ok := row.(tabled)
	if !ok {
		return nil, fmt.Errorf("%T is a row of no table", row)
	}
	fields, columns, err := fieldsOf(of)
	if err != nil {
		return nil, err
	}
	t := sqlText{}
	t.say("SELECT " + strings.Join(columns, ", ") + ` FROM "` + of.TableName() + `" WHERE ` + ofTheWorkshop)
	if err := t.narrow(conditions); err != nil {
		return nil, err
	}
	if len(by) > 0 {
		t.say(" ORDER BY " + strings.Join(by, ", "))
	}
	if limited {
		t.say(" LIMIT ?")
	}
	return &selection{t.String(), fields}, nil
}

// sqlText is SQL being written, its places numbered as both databases have
// them.
type sqlText struct {
	strings.Builder
	places int
}

// say appends SQL with a ? for each value.
func (t *sqlText) say(sql string) {
	for i, part := range strings.Split(sql, "?") {
		if i > 0 {
			t.places++
			t.WriteString("$" + strconv.Itoa(t.places))
		}
		t.WriteString(part)
	}
}

// narrow appends conditions, each in its brackets.
func (t *sqlText) narrow(conditions []condition) error {
	for _, c := range conditions {
		if err := c.closed(); err != nil {
			return err
		}
		t.say(" AND (" + c.says + ")")
	}
	return nil
}

// closed says that a condition stays inside the brackets it is put in, and has
// a value for each of its places.
func (c condition) closed() error {
	if n := strings.Count(c.says, "?"); n != len(c.values) {
		return fmt.Errorf("the condition %q has %d places and %d values", c.says, n, len(c.values))
	}
	deep, quoted := 0, false
	for _, sign := range c.says {
		switch {
		case sign == '\'':
			quoted = !quoted
		case quoted:
		case sign == '(':
			deep++
		case sign == ')':
			deep--
		}
		if deep < 0 {
			break
		}
	}
	if deep != 0 || quoted || strings.Contains(c.says, "--") || strings.Contains(c.says, "/*") {
		return fmt.Errorf("the condition %q leaves its brackets", c.says)
	}
	return nil
}
