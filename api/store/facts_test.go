package store

import (
	"slices"
	"strings"
	"testing"
)

// tableFacts is what a database says of one of its tables, in SQLite's words
// for the types.
type tableFacts struct {
	name    string
	columns []columnFacts
	// primary, and unique and plain by index, are the columns of keys in
	// their order.
	primary       []string
	unique, plain map[string][]string
	foreign       []foreignFacts
	// loose says why the table would take what its columns do not say; "".
	loose string
}

type columnFacts struct {
	name, kind string
	notNull    bool
}

type foreignFacts struct {
	from, to []string
	table    string
}

// tablesOf reads the schema back, without the migrating library's own table.
func tablesOf(t *testing.T, l *line) map[string]tableFacts {
	t.Helper()
	all := map[string]tableFacts{}
	list := tablesOfFile
	if _, ok := l.engine.(postgresServer); ok {
		list = tablesOfServer
	}
	for _, f := range list(t, l) {
		all[f.name] = f
	}
	if len(all) < 7 {
		t.Fatalf("only %d tables were found", len(all))
	}
	return all
}

func tablesOfFile(t *testing.T, l *line) (all []tableFacts) {
	t.Helper()
	for _, table := range ask(t, l, `SELECT name, strict FROM pragma_table_list WHERE schema = 'main' AND type = 'table'`) {
		name := table[0]
		if name == "goose_db_version" || strings.HasPrefix(name, "sqlite_") {
			continue
		}
		f := tableFacts{name: name, unique: map[string][]string{}, plain: map[string][]string{}}
		if table[1] != "1" {
			f.loose = "it is not STRICT"
		}
		for _, c := range ask(t, l, `SELECT name, type, "notnull" FROM pragma_table_info(?)`, name) {
			f.columns = append(f.columns, columnFacts{name: c[0], kind: c[1], notNull: c[2] == "1"})
		}
		f.primary = column(ask(t, l, `SELECT name FROM pragma_table_info(?) WHERE pk > 0 ORDER BY pk`, name))
		for _, index := range ask(t, l, `SELECT name, "unique" FROM pragma_index_list(?) WHERE origin <> 'pk'`, name) {
			over := column(ask(t, l, `SELECT name FROM pragma_index_info(?) ORDER BY seqno`, index[0]))
			if index[1] == "1" {
				f.unique[index[0]] = over
			} else {
				f.plain[index[0]] = over
			}
		}
		for _, id := range column(ask(t, l, `SELECT DISTINCT id FROM pragma_foreign_key_list(?)`, name)) {
			k := foreignFacts{}
			for _, c := range ask(t, l, `SELECT "from", coalesce("to", 'workshop_id'), "table" FROM pragma_foreign_key_list(?) WHERE id = CAST(? AS INTEGER) ORDER BY seq`, name, id) {
				k.from, k.to, k.table = append(k.from, c[0]), append(k.to, c[1]), c[2]
			}
			f.foreign = append(f.foreign, k)
		}
		all = append(all, f)
	}
	return all
}

func tablesOfServer(t *testing.T, l *line) (all []tableFacts) {
	t.Helper()
	kinds := map[string]string{"text": "TEXT", "bigint": "INTEGER", "bytea": "BLOB"}
	names := column(ask(t, l, `SELECT relname FROM pg_class WHERE relnamespace = current_schema()::regnamespace
		AND relkind IN ('r', 'p') AND relname <> 'goose_db_version'`))
	for _, name := range names {
		f := tableFacts{name: name, unique: map[string][]string{}, plain: map[string][]string{}}
		for _, c := range ask(t, l, `SELECT attname, format_type(atttypid, -1), attnotnull, (SELECT collname FROM pg_collation c WHERE c.oid = attcollation)
			FROM pg_attribute WHERE attrelid = to_regclass($1) AND attnum > 0 AND NOT attisdropped ORDER BY attnum`, name) {
			kind, known := kinds[c[1]]
			if !known {
				kind = c[1]
			}
			if kind == "TEXT" && c[3] != "C" {
				f.loose = c[0] + ` does not sort by its bytes: it needs COLLATE "C"`
			}
			f.columns = append(f.columns, columnFacts{name: c[0], kind: kind, notNull: c[2] == "true"})
		}
		for _, index := range ask(t, l, `SELECT i.relname, indisprimary, indisunique,
			(SELECT string_agg(attname, ' ' ORDER BY place) FROM unnest(indkey) WITH ORDINALITY k (num, place)
				JOIN pg_attribute a ON a.attrelid = indrelid AND a.attnum = k.num)
			FROM pg_index JOIN pg_class i ON i.oid = indexrelid WHERE indrelid = to_regclass($1)`, name) {
			over := strings.Fields(index[3])
			switch {
			case index[1] == "true":
				f.primary = over
			case index[2] == "true":
				f.unique[index[0]] = over
			default:
				f.plain[index[0]] = over
			}
		}
		for _, k := range ask(t, l, `SELECT confrelid::regclass::text,
			(SELECT string_agg(attname, ' ' ORDER BY place) FROM unnest(conkey) WITH ORDINALITY k (num, place) JOIN pg_attribute ON attrelid = conrelid AND attnum = num),
			(SELECT string_agg(attname, ' ' ORDER BY place) FROM unnest(confkey) WITH ORDINALITY k (num, place) JOIN pg_attribute ON attrelid = confrelid AND attnum = num)
			FROM pg_constraint WHERE contype = 'f' AND conrelid = to_regclass($1)`, name) {
			f.foreign = append(f.foreign, foreignFacts{table: k[0], from: strings.Fields(k[1]), to: strings.Fields(k[2])})
		}
		all = append(all, f)
	}
	return all
}

// columnNames of a table, in order.
func (f tableFacts) columnNames() (names []string) {
	for _, c := range f.columns {
		names = append(names, c.name)
	}
	return names
}

// refers says which other tables have to be there before this one's rows.
func (f tableFacts) refers() (tables []string) {
	for _, k := range f.foreign {
		if k.table != f.name && !slices.Contains(tables, k.table) {
			tables = append(tables, k.table)
		}
	}
	return tables
}
