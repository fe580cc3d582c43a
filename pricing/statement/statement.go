// Package statement reads what a bank says happened on an account: camt.053
// (ISO 20022), OFX, and CSV with a map of its columns. It says where a file is
// broken, and holds the balances against the lines; a file with any fault gives
// no statement at all.
//
// Days are YYYY-MM-DD as the bank gives them. Amounts are in the account's
// currency, above nothing where money came in and below where it went out.
package statement

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Statement is what happened on one account over some days.
type Statement struct {
	Source Source `json:"source"`
	// Account is its number as the bank writes it, an IBAN without spaces.
	Account  string         `json:"account"`
	Currency money.Currency `json:"currency"`
	// ID is the bank's own of the statement; "" for none.
	ID string `json:"id,omitempty"`
	// From and Until are its days; of a file that does not say, those of its
	// lines; "" for none.
	From  string `json:"from,omitempty"`
	Until string `json:"until,omitempty"`
	// Opening before the first line, Closing after the last; nil where the file
	// does not say.
	Opening *money.Amount `json:"opening,omitempty"`
	Closing *money.Amount `json:"closing,omitempty"`
	Lines   []Line        `json:"lines"`
	// NotBooked are lines left out because the bank has not booked them yet.
	NotBooked int `json:"not_booked,omitempty"`
	// names of the lines, where they are those of a longer statement.
	names []string
}

// Source is the form a statement was read from.
type Source string

// The forms; zero is invalid.
const (
	Camt053 Source = "camt.053"
	OFX     Source = "OFX"
	CSV     Source = "CSV"
)

// Words are the forms there are.
func (Source) Words() []string { return []string{string(Camt053), string(OFX), string(CSV)} }

// Line is one movement.
type Line struct {
	Day      string       `json:"day"` // booked
	ValueDay string       `json:"value_day,omitempty"`
	Amount   money.Amount `json:"amount"`
	// Words are the payer's or the bank's, in one line.
	Words string `json:"words,omitempty"`
	// Reference is a creditor reference that stands in a field of its own
	// (ISO 11649); one among the words is for whoever reconciles to find.
	Reference string `json:"reference,omitempty"`
	// EndToEnd is the payer's own mark of the payment.
	EndToEnd     string `json:"end_to_end,omitempty"`
	Party        string `json:"party,omitempty"` // the other side
	PartyAccount string `json:"party_account,omitempty"`
	// BankID is the bank's own of the movement.
	BankID string `json:"bank_id,omitempty"`
	// Reversal takes an earlier movement back, with its own sign.
	Reversal bool `json:"reversal,omitempty"`
	// Foreign is what was paid in another currency; nil for none.
	Foreign *Foreign `json:"foreign,omitempty"`
	// At is the line of the file where it begins, from 1.
	At int `json:"at,omitempty"`
}

// Foreign is a sum in another currency than the account's.
type Foreign struct {
	Amount money.Amount `json:"amount"`
	Rate   string       `json:"rate,omitempty"` // decimal, as the bank gives it
}

// Limits of a file; more is refused.
const (
	MaxBytes = 256 << 20
	MaxLines = 200_000
	// maxText of a field, in characters; what is longer is cut.
	maxText = 1000
)

// Asked is what a file is read with.
type Asked struct {
	// Columns of a CSV file, and the account it is of; nil for other forms.
	Columns  *Columns
	Account  string
	Currency money.Currency
}

// Read reads a file of any form; which one is seen from how it begins.
func Read(file []byte, asked Asked) ([]Statement, document.Faults) {
	if len(file) > MaxBytes {
		return nil, document.Faults{{Code: "too_large", Reason: "The file is too large.", Remedy: "Ask the bank for fewer days at once."}}
	}
	var list []Statement
	var faults document.Faults
	switch SourceOf(file) {
	case Camt053:
		list, faults = readCamt(file)
	case OFX:
		list, faults = readOFX(file)
	default:
		list, faults = readCSV(file, asked)
	}
	for i := range list {
		faults = append(faults, list[i].check()...)
	}
	if len(faults) > 0 {
		return nil, faults.Sort().Limit()
	}
	return list, nil
}

// SourceOf is the form a file seems to be in.
func SourceOf(file []byte) Source {
	begin := strings.TrimSpace(strings.TrimPrefix(string(file[:min(len(file), 2048)]), "\ufeff"))
	switch upper := strings.ToUpper(begin); {
	case strings.HasPrefix(upper, "OFXHEADER"), strings.HasPrefix(upper, "<OFX>"), strings.HasPrefix(upper, "<?XML") && strings.Contains(upper, "<?OFX"):
		return OFX
	case strings.HasPrefix(begin, "<"):
		return Camt053
	}
	return CSV
}

// check holds a statement together: one currency, days in their span, and the
// balances against the lines.
func (s *Statement) check() document.Faults {
	var faults document.Faults
	sum := int64(0)
	for _, balance := range []*money.Amount{s.Opening, s.Closing} {
		if balance != nil && !balance.Enterable() {
			faults = append(faults, document.Fault{Code: "out_of_range", At: document.Join("statements", s.ID),
				Reason: fmt.Sprintf("A balance of %s is more than is kept.", balance), Remedy: "Look whether the file is whole."})
		}
	}
	for i := range s.Lines {
		l := &s.Lines[i]
		if !l.Amount.Enterable() {
			faults = append(faults, document.Fault{Code: "out_of_range", Line: l.At, Reason: fmt.Sprintf("%s is more than is kept of a line.", l.Amount), Remedy: "Look whether the file is whole."})
			continue
		}
		if l.Amount.Currency() != s.Currency {
			faults = append(faults, document.Fault{Code: "currency", Line: l.At, Reason: fmt.Sprintf("The line is in %s, the account in %s.", l.Amount.Currency(), s.Currency),
				Remedy: "Ask the bank for a statement of one account."})
			continue
		}
		sum += l.Amount.Minor()
		if s.From == "" || l.Day < s.From {
			s.From = l.Day
		}
		if l.Day > s.Until {
			s.Until = l.Day
		}
	}
	if len(faults) > 0 || s.Opening == nil || s.Closing == nil {
		return faults
	}
	comes, err := s.Opening.WithMinor(s.Opening.Minor() + sum)
	if err != nil || comes != *s.Closing {
		at := 0
		if len(s.Lines) > 0 {
			at = s.Lines[len(s.Lines)-1].At
		}
		faults = append(faults, document.Fault{Code: "does_not_add_up", At: document.Join("statements", s.ID), Line: at,
			Reason: fmt.Sprintf("From %s the lines lead to %s, and the statement closes with %s.", s.Opening, comes, s.Closing),
			Remedy: "Ask the bank for the whole statement; a line is missing or stands in it twice."})
	}
	return faults
}

// Follows says whether a statement goes on where another ended: the same
// account, and the balance as it was left. False also where either balance is
// not known.
func (s *Statement) Follows(before *Statement) bool {
	return s.Account == before.Account && s.Opening != nil && before.Closing != nil && *s.Opening == *before.Closing
}

// Identities name the lines of a statement, each for itself: the same movement
// has the same name in every file it stands in, so that a file read twice, or
// one that overlaps another, brings nothing a second time. A line is known by
// the bank's own id where that is given once in the statement; else by account,
// day, amount and words, and of several alike on one day by which of them it
// is.
func (s *Statement) Identities() []string {
	if s.names != nil {
		return s.names
	}
	times := map[string]int{}
	for i := range s.Lines {
		times[s.Lines[i].BankID]++
	}
	names := make([]string, len(s.Lines))
	alike := map[string]uint64{}
	for i := range s.Lines {
		l := &s.Lines[i]
		if l.BankID != "" && times[l.BankID] == 1 {
			names[i] = identity("id", s.Account, l.BankID, l.Amount.String())
			continue
		}
		like := identity("like", s.Account, l.Day, l.Amount.String(), folded(l.Words), folded(l.Party), l.Reference, l.EndToEnd)
		alike[like]++
		names[i] = identity("alike", like, string(binary.BigEndian.AppendUint64(nil, alike[like])))
	}
	return names
}

// Pieces are a long statement in several that follow one another, each of so many
// lines or what is over to the end of a day, for who keeps them one by one. It
// is one piece where its lines are not in the order of their days.
func (s *Statement) Pieces(lines int) []Statement {
	if len(s.Lines) <= lines || !slices.IsSortedFunc(s.Lines, func(a, b Line) int { return strings.Compare(a.Day, b.Day) }) {
		return []Statement{*s}
	}
	names := s.Identities()
	var list []Statement
	opening := s.Opening
	for begin := 0; begin < len(s.Lines); {
		end := min(len(s.Lines), begin+lines)
		for end < len(s.Lines) && s.Lines[end].Day == s.Lines[end-1].Day {
			end++
		}
		p := *s
		p.Lines, p.names, p.Opening = s.Lines[begin:end], names[begin:end], opening
		if begin > 0 {
			p.From, p.NotBooked = s.Lines[begin].Day, 0
		}
		if end < len(s.Lines) {
			p.Until, p.Closing = s.Lines[end-1].Day, nil
			if opening != nil {
				minor := opening.Minor()
				for i := range p.Lines {
					minor += p.Lines[i].Amount.Minor()
				}
				closing, err := opening.WithMinor(minor)
				if err != nil { // the balance was too large on the way
					return []Statement{*s}
				}
				p.Closing = &closing
			}
			opening = p.Closing
		}
		list, begin = append(list, p), end
	}
	return list
}

func identity(parts ...string) string {
	h := sha256.New()
	for _, p := range append([]string{"wainscot-statement-line/1"}, parts...) {
		h.Write(binary.BigEndian.AppendUint64(nil, uint64(len(p))))
		h.Write([]byte(p))
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// folded is a text as it counts for being the same: banks set it anew in other
// lines and cases.
func folded(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), " ")) }

// text is a field in one line, no longer than is kept.
func text(parts ...string) string {
	joined := strings.Join(strings.Fields(strings.Map(printable, strings.Join(parts, " "))), " ")
	if runes := []rune(joined); len(runes) > maxText {
		return string(runes[:maxText])
	}
	return joined
}

func printable(r rune) rune {
	switch {
	case r == '\u00a0':
		return ' '
	case r < ' ' || r == 0x7f || r == '\ufffd' || r == '\ufeff':
		return ' '
	}
	return r
}

// account is a number without spaces.
func account(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), "")) }

// inOrder sorts the lines of a file that begins with the latest.
func inOrder(lines []Line) {
	if len(lines) > 1 && lines[0].Day > lines[len(lines)-1].Day {
		slices.Reverse(lines)
	}
}
