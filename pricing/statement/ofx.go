package statement

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// readOFX reads OFX (Open Financial Exchange): 2.x is XML, 1.x is SGML whose
// leaves are not closed. Both are read as tags with what stands behind them,
// because that is what banks write in either.
func readOFX(file []byte) ([]Statement, document.Faults) {
	if !utf8.Valid(file) { // CHARSET:1252, which is what the rest is
		if decoded, err := charmap.Windows1252.NewDecoder().Bytes(file); err == nil {
			file = decoded
		}
	}
	r := &ofxReader{}
	tags(string(file), r.tag)
	if r.open && len(r.faults) == 0 {
		r.fault("not_whole", "", "The file breaks off within a statement.", "Take it from the bank again.")
	}
	if len(r.out) == 0 && len(r.faults) == 0 {
		r.fault("no_statement", "", "No statement of a bank account is in the file.", "Ask the bank for the statement of an account.")
	}
	return r.out, r.faults
}

// tags calls back for every tag, in capitals, with what stands behind it up to
// the next, and the line of the file. An end begins with a slash.
func tags(s string, seen func(name, value string, line int)) {
	line := 1
	for {
		open := strings.IndexByte(s, '<')
		if open < 0 {
			return
		}
		line += strings.Count(s[:open], "\n")
		s = s[open+1:]
		end := strings.IndexAny(s, "><")
		if end < 0 || s[end] == '<' {
			continue // a mark that is no tag
		}
		name := strings.ToUpper(strings.TrimSpace(s[:end]))
		at := line
		line += strings.Count(s[:end], "\n")
		s = s[end+1:]
		next := strings.IndexByte(s, '<')
		if next < 0 {
			next = len(s)
		}
		if strings.HasPrefix(name, "?") || strings.HasPrefix(name, "!") {
			continue
		}
		seen(name, entities(strings.TrimSpace(s[:next])), at)
	}
}

// entities are those that OFX (2.3.2.1, special characters) allows.
func entities(s string) string {
	if !strings.Contains(s, "&") {
		return s
	}
	return strings.NewReplacer("&lt;", "<", "&gt;", ">", "&nbsp;", " ", "&apos;", "'", "&quot;", `"`, "&amp;", "&").Replace(s)
}

// ofxReader is one file being read.
type ofxReader struct {
	out    []Statement
	faults document.Faults
	open   bool // within the last statement of out
	line   int  // of the tag
	lines  int

	amount, day, value, id, name, memo, check, reference string
	begun                                                int // line of the movement
	inLine, inAccount, inBalance                         bool
	bank, number                                         string
	balance                                              string
}

func (r *ofxReader) fault(code, at, reason, remedy string) {
	r.faults = append(r.faults, document.Fault{Code: code, At: at, Line: r.line, Reason: reason, Remedy: remedy})
}

// tag takes in one tag. Of card and bank statements only how their ends are
// called differs.
func (r *ofxReader) tag(name, value string, line int) {
	r.line = line
	switch name {
	case "STMTRS", "CCSTMTRS":
		r.out = append(r.out, Statement{Source: OFX, Lines: []Line{}})
		r.open = true
		return
	case "/STMTRS", "/CCSTMTRS":
		if r.open {
			r.open = false
			r.ends()
		}
		return
	}
	if !r.open {
		return
	}
	s := &r.out[len(r.out)-1]
	switch {
	case r.inLine:
		r.movement(s, name, value)
	case r.inAccount:
		r.accountTag(s, name, value)
	case r.inBalance:
		r.balanceTag(s, name, value)
	default:
		switch name {
		case "CURDEF":
			s.Currency = money.Currency(value)
		case "DTSTART":
			s.From = ofxDay(value)
		case "DTEND":
			s.Until = ofxDay(value)
		case "BANKACCTFROM", "CCACCTFROM":
			r.inAccount, r.bank, r.number = true, "", ""
		case "LEDGERBAL":
			r.inBalance, r.balance = true, ""
		case "STMTTRN":
			*r = ofxReader{out: r.out, faults: r.faults, open: true, line: line, lines: r.lines, begun: line, inLine: true}
		}
	}
}

func (r *ofxReader) accountTag(s *Statement, name, value string) {
	switch name {
	case "BANKID":
		r.bank = value
	case "ACCTID":
		r.number = value
	case "/BANKACCTFROM", "/CCACCTFROM":
		r.inAccount = false
		s.Account = account(r.bank + r.number)
	}
}

func (r *ofxReader) balanceTag(s *Statement, name, value string) {
	switch name {
	case "BALAMT":
		r.balance = value
	case "/LEDGERBAL":
		r.inBalance = false
		amount, err := ofxAmount(r.balance, s.Currency)
		if err != nil {
			r.fault("not_an_amount", "LEDGERBAL/BALAMT", fmt.Sprintf("%q %s is no amount of money.", r.balance, s.Currency), "Take the file from the bank again.")
			return
		}
		s.Closing = &amount
	}
}

// movement takes in what stands in one STMTTRN.
func (r *ofxReader) movement(s *Statement, name, value string) {
	if into := map[string]*string{
		"TRNAMT": &r.amount, "DTPOSTED": &r.day, "DTAVAIL": &r.value, "FITID": &r.id, "NAME": &r.name, "MEMO": &r.memo,
		"CHECKNUM": &r.check, "REFNUM": &r.reference,
	}[name]; into != nil {
		*into = value
		return
	}
	if name != "/STMTTRN" {
		return
	}
	r.inLine = false
	line := Line{Day: ofxDay(r.day), ValueDay: ofxDay(r.value), Words: text(r.memo, r.check, r.reference), Party: text(r.name), BankID: text(r.id), At: r.begun}
	var err error
	if line.Amount, err = ofxAmount(r.amount, s.Currency); err != nil {
		r.fault("not_an_amount", "STMTTRN/TRNAMT", fmt.Sprintf("%q %s is no amount of money.", r.amount, s.Currency), "Take the file from the bank again.")
		return
	}
	if !calendar.Valid(line.Day) {
		r.fault("no_day", "STMTTRN/DTPOSTED", fmt.Sprintf("%q is not a day.", r.day), "Take the file from the bank again.")
		return
	}
	if !calendar.Valid(line.ValueDay) {
		line.ValueDay = ""
	}
	if r.lines++; r.lines > MaxLines {
		if r.lines == MaxLines+1 {
			r.fault("too_many", "STMTTRN", fmt.Sprintf("The file has more than %d lines.", MaxLines), "Ask the bank for fewer days at once.")
		}
		return
	}
	s.Lines = append(s.Lines, line)
}

// ends: a statement is whole.
func (r *ofxReader) ends() {
	s := &r.out[len(r.out)-1]
	if _, known := s.Currency.MinorDigits(); !known {
		r.fault("currency", "CURDEF", fmt.Sprintf("%q is no currency that is known here.", s.Currency), "Take the file from the bank again.")
	}
	if s.Account == "" {
		r.fault("no_account", "BANKACCTFROM", "Nothing says of which account it is.", "Take the file from the bank again.")
	}
	for _, day := range []*string{&s.From, &s.Until} {
		if !calendar.Valid(*day) {
			*day = ""
		}
	}
	inOrder(s.Lines)
}

// ofxAmount: a point or a comma may stand before the decimals, and nothing
// parts the thousands (OFX 3.2.9.1).
func ofxAmount(s string, c money.Currency) (money.Amount, error) {
	return roundNumber(strings.Replace(s, ",", ".", 1), c)
}

// ofxDay is the day of "20261102120000[0:GMT]" or "20261102"; "" for none.
func ofxDay(s string) string {
	if len(s) < 8 || !digits(s[:8]) {
		return ""
	}
	return s[:4] + "-" + s[4:6] + "-" + s[6:8]
}
