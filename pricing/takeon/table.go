package takeon

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Columns are those that a file may have.
type Columns struct {
	// File is the name of the file.
	File string
	// Needed stand in every one, Allowed may.
	Needed, Allowed []string
}

// Files are those there are, in the order in which they are read.
func Files() []Columns {
	return []Columns{
		{"customers", []string{"customer", "name"}, []string{"kind", "given_names", "telephone", "email", "street", "town", "postcode", "country", "notes"}},
		{"vans", []string{"van", "base_van"}, []string{"customer", "registration", "vin"}},
		{"jobs", []string{"job", "customer", "van", "words", "agreed_on"}, []string{"arrived_on", "key_hook", "stage", "promised_on"}},
		{"hours", []string{"job", "stage", "trade", "hours"}, nil},
		{"papers", []string{"job", "paper", "state"}, []string{"stage", "on"}},
		{"slots", []string{"job", "place", "from", "until"}, nil},
		{"prices", []string{"job", "words", "amount", "vat", "vat_percent"}, []string{"treatment", "evidence"}},
		{"deposits", []string{"job", "day", "amount", "vat", "vat_percent"}, []string{"treatment", "reference", "how"}},
		{"stock", []string{"part", "quantity", "unit_cost"}, []string{"place"}},
		{"balances", []string{"account", "books", "statement"}, nil},
		{"totals", []string{"what", "figure"}, nil},
	}
}

// reader reads all files, and gathers what is wrong with them.
type reader struct {
	k      Known
	faults document.Collector
	out    TakeOn
	rows   map[string][]row
	// broken are the files that could not be read: what refers to them is not
	// said to be missing as well.
	broken map[string]bool
	// faulted are those (with .csv) of which anything is wrong.
	faulted map[string]bool
	// held are the deposits by job.
	held map[string]int64
	// by key
	customers, vans, jobs map[string]int
	totals                map[string]row
}

// row is one line of a file below its heads.
type row struct {
	r     *reader
	file  string
	line  int
	cells map[string]string
}

func (r *reader) fault(file string, line int, at, code, reason, remedy string) {
	r.faulted[file] = true
	r.faults.Add(document.Fault{Code: code, At: at, File: file, Line: line, Reason: reason, Remedy: remedy})
}

func (w row) fault(at, code, reason, remedy string) {
	w.r.fault(w.file, w.line, at, code, reason, remedy)
}

// table reads the rows of one file.
func (r *reader) table(c Columns, text string) {
	name := c.File + ".csv"
	broken := func(line int, code, reason, remedy string) {
		r.broken[c.File] = true
		r.fault(name, line, "", code, reason, remedy)
	}
	if len(text) > MaxBytes {
		broken(0, "too_large", fmt.Sprintf("The file has %d bytes.", len(text)), fmt.Sprintf("At most %d are taken on.", MaxBytes))
		return
	}
	if !utf8.ValidString(text) {
		broken(0, "not_text", "The file is not UTF-8.", "Save it as CSV in UTF-8.")
		return
	}
	in := csv.NewReader(strings.NewReader(strings.TrimPrefix(text, "\ufeff")))
	in.FieldsPerRecord = -1
	var heads []string
	for {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if at, ok := errors.AsType[*csv.ParseError](err); ok {
			broken(at.Line, "not_csv", "The line cannot be read: a quotation mark is out of place.", "Write quotation marks within a text twice, and put the text in them.")
			return
		}
		line, _ := in.FieldPos(0)
		if heads == nil {
			if heads = r.heads(c, name, line, cells); heads == nil {
				r.broken[c.File] = true
				return
			}
			continue
		}
		if len(r.rows[c.File]) >= MaxRows {
			broken(line, "too_many", fmt.Sprintf("The file has more than %d lines.", MaxRows), "Take on what is still in business.")
			return
		}
		if w, ok := r.cellsOf(name, line, heads, cells); ok {
			r.rows[c.File] = append(r.rows[c.File], w)
		}
	}
	if heads == nil {
		broken(1, "missing_value", "The file has no heads of columns.", "Begin it with "+strings.Join(c.Needed, ",")+".")
	}
}

// heads are the words in the first line; nil where they are not those of the
// file.
func (r *reader) heads(c Columns, name string, line int, cells []string) []string {
	all := slices.Concat(c.Needed, c.Allowed)
	heads := make([]string, len(cells))
	good := true
	for i, cell := range cells {
		heads[i] = strings.ToLower(strings.TrimSpace(cell))
		switch {
		case !slices.Contains(all, heads[i]):
			good = false
			r.fault(name, line, shown(heads[i]), "unknown_column", fmt.Sprintf("There is no column %q here.", shown(heads[i])), document.Suggest(heads[i], all, "Leave it out."))
		case slices.Contains(heads[:i], heads[i]):
			good = false
			r.fault(name, line, heads[i], "twice", "The column is there twice.", "Leave one out.")
		}
	}
	for _, needed := range c.Needed {
		if !slices.Contains(heads, needed) {
			good = false
			r.fault(name, line, needed, "no_column", fmt.Sprintf("The column %q is missing.", needed), "Add it.")
		}
	}
	if !good {
		return nil
	}
	return heads
}

// cellsOf reads one line; false where it is empty.
func (r *reader) cellsOf(name string, line int, heads, cells []string) (row, bool) {
	w := row{r: r, file: name, line: line, cells: map[string]string{}}
	some := false
	for i, cell := range cells {
		cell = strings.TrimSpace(cell)
		some = some || cell != ""
		if i >= len(heads) {
			if cell != "" {
				w.fault("", "too_many", fmt.Sprintf("The line has %d columns, and there are %d heads.", len(cells), len(heads)), "Put texts that hold a comma in quotation marks.")
				return w, false
			}
			continue
		}
		if reason := document.TextFault(cell); reason != "" {
			w.fault(heads[i], "bad_text", reason, "Write it as plain text in one line.")
			return w, false
		}
		w.cells[heads[i]] = cell
	}
	return w, some
}

// text of at most so many characters.
func (w row) text(at string, most int, needed bool) string {
	s := w.cells[at]
	switch {
	case s == "" && needed:
		w.fault(at, "missing_value", "Nothing stands here.", "Fill it in.")
	case utf8.RuneCountInString(s) > most:
		w.fault(at, "too_long", "That is too long.", fmt.Sprintf("Write at most %d characters.", most))
		return ""
	case strings.Contains(s, "\n"):
		w.fault(at, "bad_text", "It is more than one line.", "Write it in one.")
		return ""
	}
	return s
}

// form is a text that has to look a certain way.
func (w row) form(at string, most int, pattern *regexp.Regexp, what, remedy string) string {
	s := w.text(at, most, false)
	if s != "" && !pattern.MatchString(s) {
		w.fault(at, "wrong_form", fmt.Sprintf("%q is no %s.", shown(s), what), remedy)
		return ""
	}
	return s
}

// word is one of a few.
func (w row) word(at string, words []string, otherwise string) string {
	s := w.cells[at]
	switch {
	case s == "" && otherwise != "":
		return otherwise
	case s == "":
		w.fault(at, "missing_value", "Nothing stands here.", "Use one of "+strings.Join(words, ", ")+".")
	case len(words) == 0:
		w.fault(at, "unknown_word", fmt.Sprintf("There is no %q here.", shown(s)), "There is none yet: set it up first.")
	case !slices.Contains(words, s):
		w.fault(at, "unknown_word", fmt.Sprintf("%q is none of what there is.", shown(s)), document.Suggest(s, words, "Look at what there is."))
	default:
		return s
	}
	return ""
}

// day of at latest one; "" for no bound.
func (w row) day(at string, needed bool, latest string) string {
	s := w.cells[at]
	switch {
	case s == "" && !needed:
	case !calendar.Valid(s):
		w.fault(at, "day", fmt.Sprintf("%q is not a day.", shown(s)), "Write it as year, month and day: 2027-01-11.")
		return ""
	case latest != "" && s > latest:
		w.fault(at, "day", fmt.Sprintf("%s is after %s.", calendar.Said(s), calendar.Said(latest)), "Give a day that was over when the figures were taken.")
		return ""
	}
	return s
}

// amount of money in the workshop's currency; least is what it may not be below.
func (w row) amount(at string, least int64) (money.Amount, bool) {
	a, err := money.Parse(w.cells[at], w.r.k.Currency)
	switch {
	case err != nil:
		w.fault(at, "not_money", fmt.Sprintf("%q is no amount of %s.", shown(w.cells[at]), w.r.k.Currency), "Write it in digits with a point before the decimals and nothing else: 1250.00.")
	case a.Minor() < least:
		w.fault(at, "amount", "So little cannot be.", "Leave the line out, or write what it is.")
	default:
		return a, true
	}
	return money.Zero(w.r.k.Currency), false
}

// decimal is a number of at most so many places, from nothing to most.
func (w row) decimal(at string, places int32, most int64) (decimal.Decimal, bool) {
	s := w.cells[at]
	d, err := decimal.NewFromString(s)
	if err != nil || len(s) > 30 || !plainNumber.MatchString(s) {
		w.fault(at, "not_a_number", fmt.Sprintf("%q is no number.", shown(s)), "Write it in digits, with a point before the decimals.")
		return decimal.Zero, false
	}
	if -d.Exponent() > places || d.GreaterThan(decimal.New(most, 0)) {
		w.fault(at, "out_of_range", fmt.Sprintf("%s cannot be.", shown(s)), fmt.Sprintf("Write 0 to %d, with at most %d decimals.", most, places))
		return decimal.Zero, false
	}
	return d, true
}

var plainNumber = regexp.MustCompile(`^[0-9]+(\.[0-9]+)?$`)

// key of a thing that may stand there once.
func (w row) key(at string, known map[string]int) (string, bool) {
	s := w.text(at, 40, true)
	if s == "" {
		return s, false
	}
	if first, there := known[s]; there {
		w.fault(at, "duplicate_code", fmt.Sprintf("%q is there already, as number %d of the file.", shown(s), first+1), "Give each its own.")
		return s, false
	}
	return s, true
}

// of is the place of what a column names in another file.
func (w row) of(at, file string, known map[string]int) (int, bool) {
	s := w.text(at, 40, true)
	if s == "" {
		return 0, false
	}
	i, there := known[s]
	if !there && !w.r.broken[file] {
		w.fault(at, "unknown_reference", fmt.Sprintf("%s.csv has no %q.", file, shown(s)), "Add it there, or write it as it is there.")
	}
	return i, there
}

// shown is what was written, as much of it as is worth showing.
func shown(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}
