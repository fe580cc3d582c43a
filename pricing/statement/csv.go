package statement

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Columns say what stands where in the CSV of a bank: by the words at the head
// of each column, so that a bank that adds one or moves them changes nothing,
// and one that renames them is told.
type Columns struct {
	// Between is what parts the columns: ",", ";", "|" or "\t".
	Between string `json:"between"`
	// Skip lines come before the heads; Leave are left out at the end.
	Skip  int `json:"skip,omitempty"`
	Leave int `json:"leave,omitempty"`
	// Day is the head of the column with the day booked, in the order DayOrder.
	Day      string   `json:"day"`
	DayOrder DayOrder `json:"day_order"`
	ValueDay string   `json:"value_day,omitempty"`
	// Amount is one column with a sign; or In and Out are two, of which one is
	// filled.
	Amount string `json:"amount,omitempty"`
	In     string `json:"in,omitempty"`
	Out    string `json:"out,omitempty"`
	// Decimal is the mark before the decimals: "." or ",".
	Decimal string `json:"decimal"`
	// Words are the columns whose texts say what it is for, put together.
	Words        []string `json:"words"`
	Party        string   `json:"party,omitempty"`
	PartyAccount string   `json:"party_account,omitempty"`
	Reference    string   `json:"reference,omitempty"`
	BankID       string   `json:"bank_id,omitempty"`
	// Balance after the line; with it the lines are held against each other.
	Balance string `json:"balance,omitempty"`
	// Account, where one file has several: lines of others are a fault.
	Account  string `json:"account,omitempty"`
	Currency string `json:"currency,omitempty"`
}

// DayOrder is how a day is written; between its parts stands any of "/", "-",
// ".", or a space, the month is a number or an English name, and a year of two
// digits is of this century.
type DayOrder string

// The orders; zero is invalid.
const (
	DayMonthYear DayOrder = "day month year"
	MonthDayYear DayOrder = "month day year"
	YearMonthDay DayOrder = "year month day"
)

// Words are the orders there are.
func (DayOrder) Words() []string {
	return []string{string(DayMonthYear), string(MonthDayYear), string(YearMonthDay)}
}

// Limits of a column map.
const (
	MaxSkip  = 100
	maxWords = 10
	maxHead  = 100 // characters
)

// Check finds what is wrong with a map by itself.
func (c *Columns) Check() document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if !slices.Contains([]string{",", ";", "|", "\t"}, c.Between) {
		fault("unknown_word", "between", fmt.Sprintf("%q does not part columns.", c.Between), `Use one of ",", ";", "|" or a tab.`)
	}
	if c.Decimal != "." && c.Decimal != "," {
		fault("unknown_word", "decimal", fmt.Sprintf("%q does not stand before decimals.", c.Decimal), `Use "." or ",".`)
	}
	if !slices.Contains(c.DayOrder.Words(), string(c.DayOrder)) {
		fault("unknown_word", "day_order", fmt.Sprintf("%q is no order of a day.", c.DayOrder), "Use one of "+strings.Join(c.DayOrder.Words(), ", ")+".")
	}
	for _, n := range []struct {
		at string
		n  int
	}{{"skip", c.Skip}, {"leave", c.Leave}} {
		if n.n < 0 || n.n > MaxSkip {
			fault("out_of_range", n.at, fmt.Sprintf("%d lines cannot be left out.", n.n), fmt.Sprintf("Give 0 to %d.", MaxSkip))
		}
	}
	if c.Day == "" {
		fault("missing", "day", "Nothing says in which column the day is.", "Name the head of the column.")
	}
	if (c.Amount == "") == (c.In == "" && c.Out == "") || (c.In == "") != (c.Out == "") {
		fault("contradiction", "amount", "The amount is either in one column with a sign, or in two, in and out.", "Name amount, or both in and out.")
	}
	if len(c.Words) > maxWords {
		fault("too_many", "words", fmt.Sprintf("%d columns have words.", len(c.Words)), fmt.Sprintf("Name at most %d.", maxWords))
	}
	for _, h := range c.heads() {
		if reason := document.TextFault(h.head); reason != "" || utf8.RuneCountInString(h.head) > maxHead {
			fault("bad_text", h.at, "It is no head of a column.", fmt.Sprintf("Write it as it stands in the file, in at most %d characters.", maxHead))
		}
	}
	return faults.Limit()
}

type head struct{ at, head string }

// heads are all that are named.
func (c *Columns) heads() []head {
	all := []head{{"day", c.Day}, {"value_day", c.ValueDay}, {"amount", c.Amount}, {"in", c.In}, {"out", c.Out}, {"party", c.Party},
		{"party_account", c.PartyAccount}, {"reference", c.Reference}, {"bank_id", c.BankID}, {"balance", c.Balance}, {"account", c.Account}, {"currency", c.Currency}}
	for i, w := range c.Words {
		all = append(all, head{document.Join("words", i+1), w})
	}
	return slices.DeleteFunc(all, func(h head) bool { return h.head == "" })
}

// csvReader is one file being read.
type csvReader struct {
	asked    Asked
	c        *Columns
	place    map[string]int // of a head
	faults   document.Faults
	out      Statement
	balances []money.Amount // after each line, where the file says
}

func readCSV(file []byte, asked Asked) ([]Statement, document.Faults) {
	r := &csvReader{asked: asked, c: asked.Columns, out: Statement{Source: CSV, Account: account(asked.Account), Currency: asked.Currency, Lines: []Line{}}}
	if r.c == nil {
		return nil, document.Faults{{Code: "no_columns", Line: 1, Reason: "The file is neither camt.053 nor OFX, and for CSV nothing says what its columns are.",
			Remedy: "Give the account a map of its columns, or take another form from the bank."}}
	}
	if faults := r.c.Check(); len(faults) > 0 {
		return nil, faults
	}
	if !utf8.Valid(file) {
		decoded, err := charmap.Windows1252.NewDecoder().Bytes(file)
		if err != nil {
			return nil, document.Faults{{Code: "not_text", Reason: "The file is not text.", Remedy: "Take it from the bank again."}}
		}
		file = decoded
	}
	file = bytes.TrimPrefix(file, []byte("\ufeff"))
	rows := r.rows(file)
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	for _, row := range rows {
		r.row(row)
	}
	r.balance()
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	return []Statement{r.out}, nil
}

type csvRow struct {
	cells []string
	line  int
}

func (r *csvReader) fault(line int, code, at, reason, remedy string) {
	r.faults = append(r.faults, document.Fault{Code: code, At: at, Line: line, Reason: reason, Remedy: remedy})
}

// rows are those below the heads, which are found.
func (r *csvReader) rows(file []byte) []csvRow {
	skipped := 0
	for ; skipped < r.c.Skip; skipped++ {
		_, rest, found := bytes.Cut(file, []byte("\n"))
		if !found {
			r.fault(skipped+1, "not_whole", "", "The file ends before the heads of its columns.", "Leave fewer lines out, or take the file from the bank again.")
			return nil
		}
		file = rest
	}
	in := csv.NewReader(bytes.NewReader(file))
	in.Comma = rune(r.c.Between[0])
	in.FieldsPerRecord = -1
	var list []csvRow
	for {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if broken, ok := errors.AsType[*csv.ParseError](err); ok {
			r.fault(broken.Line+skipped, "not_csv", "", "The line cannot be read: a quotation mark is out of place.", "Take the file from the bank again.")
			return nil
		}
		line, _ := in.FieldPos(0)
		if len(list) > MaxLines {
			r.fault(line+skipped, "too_many", "", fmt.Sprintf("The file has more than %d lines.", MaxLines), "Ask the bank for fewer days at once.")
			return nil
		}
		list = append(list, csvRow{cells, line + skipped})
	}
	if len(list) == 0 {
		r.fault(1, "not_whole", "", "The file has no heads of columns.", "Take it from the bank again.")
		return nil
	}
	r.find(list[0])
	return list[1:max(1, len(list)-r.c.Leave)]
}

// find finds the heads; case and spaces around them do not count.
func (r *csvReader) find(row csvRow) {
	r.place = map[string]int{}
	heads := make([]string, len(row.cells))
	for i, h := range row.cells {
		heads[i] = folded(h)
	}
	for _, h := range r.c.heads() {
		i := slices.Index(heads, folded(h.head))
		if i < 0 {
			r.fault(row.line, "no_column", h.at, fmt.Sprintf("No column is called %q.", h.head), document.Suggest(h.head, row.cells, "Look at the heads of the file."))
			continue
		}
		r.place[h.head] = i
	}
}

// row reads one line.
func (r *csvReader) row(row csvRow) {
	if !slices.ContainsFunc(row.cells, func(s string) bool { return strings.TrimSpace(s) != "" }) {
		return
	}
	cell := func(head string) string {
		i, ok := r.place[head]
		if head == "" || !ok || i >= len(row.cells) {
			return ""
		}
		return strings.TrimSpace(row.cells[i])
	}
	l := Line{At: row.line, Party: text(cell(r.c.Party)), PartyAccount: account(cell(r.c.PartyAccount)), Reference: account(cell(r.c.Reference)), BankID: text(cell(r.c.BankID))}
	var words []string
	for _, h := range r.c.Words {
		words = append(words, cell(h))
	}
	l.Words = text(words...)
	var ok bool
	if l.Day, ok = dayIn(cell(r.c.Day), r.c.DayOrder); !ok {
		r.fault(row.line, "no_day", r.c.Day, fmt.Sprintf("%q is not a day in the order %s.", cell(r.c.Day), r.c.DayOrder), "Look whether the file is whole, and at the order of its days.")
		return
	}
	l.ValueDay, _ = dayIn(cell(r.c.ValueDay), r.c.DayOrder)
	if of := cell(r.c.Account); of != "" && account(of) != r.out.Account {
		r.fault(row.line, "other_account", r.c.Account, fmt.Sprintf("The line is of the account %s.", text(of)), "Ask the bank for the statement of one account.")
		return
	}
	if of := cell(r.c.Currency); of != "" && of != string(r.out.Currency) {
		r.fault(row.line, "currency", r.c.Currency, fmt.Sprintf("The line is in %s, the account in %s.", text(of), r.out.Currency), "Ask the bank for the statement of one account.")
		return
	}
	if l.Amount, ok = r.amount(row.line, cell); !ok {
		return
	}
	if r.c.Balance != "" {
		after, err := number(cell(r.c.Balance), r.c.Decimal, r.out.Currency)
		if err != nil {
			r.fault(row.line, "not_an_amount", r.c.Balance, fmt.Sprintf("%q is no amount of money.", cell(r.c.Balance)), "Look at the mark before the decimals.")
			return
		}
		r.balances = append(r.balances, after)
	}
	r.out.Lines = append(r.out.Lines, l)
}

func (r *csvReader) amount(line int, cell func(string) string) (money.Amount, bool) {
	read := func(head, found string) (money.Amount, bool) {
		amount, err := number(found, r.c.Decimal, r.out.Currency)
		if err != nil {
			r.fault(line, "not_an_amount", head, fmt.Sprintf("%q is no amount of money.", found), "Look at the mark before the decimals.")
		}
		return amount, err == nil
	}
	if r.c.Amount != "" {
		return read(r.c.Amount, cell(r.c.Amount))
	}
	in, out := cell(r.c.In), cell(r.c.Out)
	switch {
	case in != "" && out == "":
		return read(r.c.In, in)
	case out != "" && in == "":
		amount, ok := read(r.c.Out, out)
		if ok && amount.Sign() > 0 { // banks write what went out with its sign or without
			amount = amount.Neg()
		}
		return amount, ok
	case in != "":
		one, ok := read(r.c.In, in)
		other, fine := read(r.c.Out, out)
		if !ok || !fine {
			return one, false
		}
		if one.IsZero() != other.IsZero() { // the other is written as nothing
			if one.IsZero() {
				if other.Sign() > 0 {
					other = other.Neg()
				}
				return other, true
			}
			return one, true
		}
	}
	r.fault(line, "not_an_amount", r.c.In, "Money came in or went out, and here it is both or neither.", "Take the file from the bank again.")
	return money.Amount{}, false
}

// balance holds the lines against the balances after them, from the first line
// on or, of a file that begins with the latest, from the last.
func (r *csvReader) balance() {
	lines := r.out.Lines
	if len(r.balances) == 0 || len(r.balances) != len(lines) || len(r.faults) > 0 {
		inOrder(lines)
		return
	}
	breaks := func() int { // the first line that does not follow
		for i := 1; i < len(lines); i++ {
			if r.balances[i-1].Minor()+lines[i].Amount.Minor() != r.balances[i].Minor() {
				return i
			}
		}
		return -1
	}
	// Where the days do not say which end is the latest, either order will do.
	last := len(lines) - 1
	turn := func() {
		slices.Reverse(lines)
		slices.Reverse(r.balances)
	}
	if lines[0].Day > lines[last].Day {
		turn()
	}
	first := breaks()
	if first >= 0 && lines[0].Day == lines[last].Day {
		turn()
		if breaks() < 0 {
			first = -1
		} else {
			turn()
		}
	}
	if first >= 0 {
		r.fault(lines[first].At, "does_not_add_up", r.c.Balance,
			fmt.Sprintf("After %s and %s the balance cannot be %s.", r.balances[first-1], lines[first].Amount, r.balances[first]), "Ask the bank for the file again; a line is missing or stands in it twice.")
		return
	}
	opening, err := r.balances[0].Sub(lines[0].Amount)
	if err == nil {
		closing := r.balances[len(r.balances)-1]
		r.out.Opening, r.out.Closing = &opening, &closing
	}
}

var months = []string{"JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC"}

// dayIn reads a day. What stands after it, such as a time, does not count.
func dayIn(s string, order DayOrder) (string, bool) {
	parts := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune("/-. T,", r) })
	if len(parts) == 1 && len(s) == 8 && digits(s) { // 20261102
		if order == YearMonthDay {
			parts = []string{s[:4], s[4:6], s[6:]}
		} else {
			parts = []string{s[:2], s[2:4], s[4:]}
		}
	}
	if len(parts) < 3 {
		return "", false
	}
	day, month, year := parts[0], parts[1], parts[2]
	switch order {
	case MonthDayYear:
		day, month = month, day
	case YearMonthDay:
		day, year = year, day
	case DayMonthYear:
	}
	if len(month) >= 3 {
		if i := slices.Index(months, strings.ToUpper(month[:3])); i >= 0 {
			month = fmt.Sprintf("%02d", i+1)
		}
	}
	if len(year) == 2 {
		year = "20" + year
	}
	if len(day) == 1 {
		day = "0" + day
	}
	if len(month) == 1 {
		month = "0" + month
	}
	written := year + "-" + month + "-" + day
	return written, calendar.Valid(written)
}
